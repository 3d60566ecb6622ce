/* The controls: one frozen record of what is shown; each control makes a new one and draws it. */
"use strict";

(function () {
  const $ = (id) => document.getElementById(id);
  const room = JSON.parse($("room").textContent);
  const canvas = $("canvas"), read = $("read");
  let picture = null, pinned = -1;
  let shown = Object.freeze({ state: room.states.length - 1, seat: room.seats[0][1], speaker: "", path: -1, layers: room.layers_on });

  function change(part) {
    if ("state" in part || "seat" in part || "speaker" in part) {
      part = { path: -1, ...part };
      pinned = -1;
    }
    shown = Object.freeze({ ...shown, ...part });
    if (picture) picture.draw(shown);
    if (!("path" in part) || Object.keys(part).length > 1) fill();
    mark();
  }

  function make(tag, words, parent, properties = {}) {
    const element = document.createElement(tag);
    element.textContent = words;
    Object.assign(element, properties);
    if (parent) parent.append(element);
    return element;
  }

  const press = (button, is) => button.setAttribute("aria-pressed", String(is));

  /* --- reading a path ------------------------------------------------------------------------- */

  function say(text, colour, x, y) {
    const [head, ...rest] = text.split(": ");
    read.replaceChildren();
    make("b", head + (rest.length ? ":" : ""), read);
    make("span", rest.join(": "), read);
    read.style.setProperty("--mark", colour || "");
    read.hidden = false;
    const box = $("picture"), free = [box.clientWidth - read.offsetWidth, box.clientHeight - read.offsetHeight];
    /* Beside the pointer, or at the foot of the picture where there is none. */
    const left = x === undefined ? 10 : x + 18 > free[0] ? x - 18 - read.offsetWidth : x + 18;
    const top = y === undefined ? free[1] - 10 : y + 14 > free[1] ? y - 14 - read.offsetHeight : y + 14;
    read.style.left = `${Math.max(4, Math.min(free[0] - 4, left))}px`;
    read.style.top = `${Math.max(4, Math.min(free[1] - 4, top))}px`;
  }

  function hush() {
    read.hidden = true;
  }

  function readPath(index, x, y) {
    const path = room.states[shown.state].paths[index];
    say(path.text, path.colour, x, y);
  }

  /* --- controls beside the picture ------------------------------------------------------------ */

  function choice(words, names, value, pick) {
    const label = make("label", `${words} `, $("choices"));
    const select = make("select", "", label);
    names.forEach(([name, key]) => make("option", name, select, { value: String(key) }));
    select.value = String(value);
    select.addEventListener("change", () => pick(select.value));
  }

  function setUp() {
    room.states.forEach((state, i) => {
      make("button", state.name, $("change")).addEventListener("click", () => change({ state: i }));
    });
    $("change").hidden = $("gain").hidden = room.states.length < 2;
    $("gain").textContent = room.change;
    room.views.forEach((view) => {
      make("button", view.name, $("views")).addEventListener("click", () => picture && picture.look(view));
    });
    if (room.seats.length > 1) {
      choice("At", room.seats, room.seats[0][1], (seat) => change({ seat }));
    }
    if (room.speakers.length > 1) {
      const all = [["all speakers", ""], ...room.speakers];
      choice("From", all, "", (speaker) => change({ speaker }));
    }
    room.layers.forEach((layer) => {
      const label = make("label", "", make("li", "", $("layers")));
      const box = make("input", "", label, { type: "checkbox", checked: shown.layers[layer.key] });
      const swatch = make("i", layer.swatch === "word" ? "Aa" : "", label, { className: layer.swatch });
      swatch.style.setProperty("--colour", layer.colour);
      swatch.style.setProperty("--inside", layer.inside || "none");
      make("span", layer.words, label);
      layer.count = make("small", "", label);
      box.addEventListener("change", () => change({ layers: { ...shown.layers, [layer.key]: box.checked } }));
    });
    drawScale();
    const coarse = window.matchMedia("(pointer: coarse)").matches;
    $("help").textContent = room.words[coarse ? "finger" : "mouse"];
    room.notes.forEach((note) => make("li", note, $("notes")));
  }

  function drawScale() {
    const scale = room.scale, bar = make("div", "", $("scale"), { className: "bar" });
    bar.style.background = `linear-gradient(90deg, ${scale.colours.join(", ")})`;
    const ticks = make("div", "", $("scale"), { className: "ticks" });
    scale.ticks.forEach(([words, share]) => (make("span", words, ticks).style.left = `${100 * share}%`));
    make("p", scale.words, $("scale"));
  }

  /* Everything that depends on seat, speaker and before or after: counts and the list. */
  function fill() {
    const isHeard = (path) => path.seat === shown.seat && (shown.speaker === "" || path.speaker === shown.speaker);
    const state = room.states[shown.state];
    const heard = state.paths.map((path, index) => ({ ...path, index })).filter(isHeard);
    room.layers.forEach((layer) => {
      const n = heard.filter((path) => path.layer === layer.key).length;
      layer.count.textContent = ["over", "first", "others"].includes(layer.key) ? n : "";
    });
    const strongest = heard.sort((a, b) => b.rank - a.rank).slice(0, 8);
    $("strongest").textContent = heard.length ? room.words.strongest : room.words.nothing;
    $("together").textContent = heard.length ? room.words.together : "";
    $("list").replaceChildren();
    strongest.forEach((path) => {
      const button = make("button", path.way, make("li", "", $("list")));
      const line = make("small", `${path.short} `, button);
      make("b", path.verdict, line);
      button.style.setProperty("--mark", path.colour);
      button.dataset.path = path.index;
      button.addEventListener("click", () => {
        pinned = pinned === path.index ? -1 : path.index;
        rest();
      });
    });
  }

  function mark() {
    [...$("change").children].forEach((button, i) => press(button, i === shown.state));
    $("list").querySelectorAll("button").forEach((button) => press(button, Number(button.dataset.path) === shown.path));
    if (shown.path < 0) hush();
  }

  /* --- mouse, finger, keys -------------------------------------------------------------------- */

  const fingers = new Map();
  let start = null;

  function place(event) {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  /* Read what lies at a place: beside a mouse; at the foot of the picture where a finger would cover it. */
  function point(x, y, isTap, isFinger) {
    const path = picture.pathAt(x, y, isFinger ? 18 : 7);
    canvas.classList.toggle("on", path >= 0);
    if (isTap) pinned = path;
    if (path < 0) rest();
    else if (path !== shown.path) change({ path });
    if (path >= 0) return isFinger ? readPath(path) : readPath(path, x, y);
    const thing = isTap ? picture.thingAt(x, y) : "";
    return thing && (isFinger ? say(thing, "") : say(thing, "", x, y));
  }

  /* What is shown while nothing is pointed at: the path picked last, or none. */
  function rest() {
    if (pinned !== shown.path) change({ path: pinned });
    return pinned < 0 ? hush() : readPath(pinned);
  }

  function down(event) {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, place(event));
    start = fingers.size === 1 ? { at: place(event), moved: false } : null;
  }

  function moved(event) {
    const now = place(event), last = fingers.get(event.pointerId);
    if (!last) return event.pointerType === "mouse" ? point(...now, false, false) : undefined;
    const [dx, dy] = [now[0] - last[0], now[1] - last[1]];
    if (start && !start.moved && Math.hypot(now[0] - start.at[0], now[1] - start.at[1]) < 6) return undefined;
    if (start) start.moved = true;
    hush();
    fingers.set(event.pointerId, now);
    if (fingers.size > 1) return pinch(event.pointerId, last, now);
    return event.shiftKey || event.buttons === 2 ? picture.move(dx, dy) : picture.turn(dx, dy);
  }

  function pinch(id, last, now) {
    const other = [...fingers].find(([key]) => key !== id)[1];
    const apart = (at) => Math.hypot(at[0] - other[0], at[1] - other[1]);
    picture.zoom(apart(last) / Math.max(1, apart(now)));
    picture.move((now[0] - last[0]) / 2, (now[1] - last[1]) / 2);
  }

  function up(event) {
    fingers.delete(event.pointerId);
    if (start && !start.moved && event.type === "pointerup") {
      point(...place(event), true, event.pointerType !== "mouse");
    }
    else if (!fingers.size) rest();
    start = null;
  }

  const KEYS = {
    ArrowLeft: () => picture.turn(-24, 0), ArrowRight: () => picture.turn(24, 0),
    ArrowUp: () => picture.turn(0, -24), ArrowDown: () => picture.turn(0, 24),
    "+": () => picture.zoom(0.87), "-": () => picture.zoom(1.15),
  };

  function listen() {
    canvas.addEventListener("pointerdown", down);
    canvas.addEventListener("pointermove", moved);
    canvas.addEventListener("pointerup", up);
    canvas.addEventListener("pointercancel", up);
    canvas.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && !fingers.size && rest());
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      picture.zoom(Math.exp(Math.sign(event.deltaY) * Math.min(0.2, Math.abs(event.deltaY) / 600)));
    }, { passive: false });
    canvas.addEventListener("keydown", (event) => {
      if (!KEYS[event.key]) return;
      event.preventDefault();
      KEYS[event.key]();
    });
    new ResizeObserver(() => picture.resize()).observe(canvas);
  }

  setUp();
  try {
    picture = makePicture(room, canvas, $("names"));
  } catch (problem) {
    $("trouble").textContent = room.words.no_picture;
    $("trouble").hidden = false;
  }
  change({});
  if (!picture) return;
  picture.resize();
  picture.look(room.views[0]);
  listen();
  /* Where a path's point stands in the picture, for whoever wants to point at it from outside. */
  window.hitspot = { onScreen: picture.onScreen, paths: () => room.states[shown.state].paths };
})();
