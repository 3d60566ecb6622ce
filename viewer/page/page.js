/* The controls: one frozen record of what is shown; each control makes a new one and draws it. */
"use strict";

(function () {
  const $ = (id) => document.getElementById(id);
  const room = JSON.parse($("room").textContent);
  const canvas = $("canvas"), read = $("read"), strip = $("strip");
  const coarse = window.matchMedia("(pointer: coarse)").matches;
  const MOST_WEAK = 8;
  /* What was picked to stay marked: a path or a line of the lists, null for nothing. */
  let picture = null, pinned = null;
  let shown = Object.freeze({
    state: room.states.length - 1, seat: room.seats[0][1], speaker: "", marked: [], layers: room.layers_on,
  });

  function change(part) {
    const isOther = "state" in part || "seat" in part || "speaker" in part;
    if (isOther) pinned = null;
    shown = Object.freeze({ ...shown, ...part, ...(isOther ? { marked: [] } : {}) });
    if (picture) picture.draw(shown);
    if (isOther) fill();
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

  /* A figure and its unit stay on one line. */
  const whole = (text) => text.replace(/(\d) (dB|ms|mm|m)\b/g, "$1\u00a0$2");

  function write(box, text, colour) {
    const [head, ...rest] = whole(text).split(": ");
    box.replaceChildren();
    make("b", head + (rest.length ? ":" : ""), box);
    make("span", rest.join(": "), box);
    box.style.setProperty("--mark", colour || "");
  }

  /* Beside the mouse. */
  function sayAt(x, y, text, colour) {
    write(read, text, colour);
    read.hidden = false;
    const box = $("picture"), free = [box.clientWidth - read.offsetWidth, box.clientHeight - read.offsetHeight];
    const left = x + 18 > free[0] ? x - 18 - read.offsetWidth : x + 18;
    const top = y + 14 > free[1] ? y - 14 - read.offsetHeight : y + 14;
    read.style.left = `${Math.max(4, Math.min(free[0] - 4, left))}px`;
    read.style.top = `${Math.max(4, Math.min(free[1] - 4, top))}px`;
  }

  /* Under the picture, where no finger and no part of the room is covered. */
  function say(text, colour) {
    write(strip, text, colour);
    strip.scrollTop = 0;
  }

  function sayNothing() {
    strip.replaceChildren();
    strip.style.setProperty("--mark", "");
    make("span", `${room.words.how} `, strip);
    make("span", room.words[coarse ? "finger" : "mouse"], strip, { className: "hint" });
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
      make("button", view.name, $("views")).addEventListener("click", () => {
        if (!picture) return;
        picture.stop();
        picture.look(view);
      });
    });
    make("button", room.words.animate, $("views"), { id: "film" }).addEventListener("click", () => {
      if (picture) picture.animate((words) => (words ? say(words, "") : sayNothing()));
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
      box.addEventListener("change", () => change({ layers: { ...shown.layers, [layer.key]: box.checked } }));
    });
    drawScale();
    canvas.setAttribute("aria-label", room.words.picture);
    $("help").textContent = room.words[coarse ? "finger_help" : "mouse_help"];
    $("together").textContent = room.words.together;
    room.notes.forEach((note) => make("li", note, $("notes")));
  }

  function drawScale() {
    const scale = room.scale, bar = make("div", "", $("scale"), { className: "bar" });
    bar.style.background = `linear-gradient(90deg, ${scale.colours.join(", ")})`;
    const ticks = make("div", "", $("scale"), { className: "ticks" });
    scale.ticks.forEach(([words, share]) => (make("span", words, ticks).style.left = `${100 * share}%`));
    make("p", scale.words, $("scale"));
  }

  /* Everything that depends on seat, speaker and before or after: what was found, and the lists. */
  function fill() {
    const isHeard = (peak) => peak.seat === shown.seat && (shown.speaker === "" || peak.speaker === shown.speaker);
    const state = room.states[shown.state];
    $("when").textContent = state.name;
    $("findings").replaceChildren();
    state.findings.forEach((line) => make("li", whole(line), $("findings")));
    const heard = state.peaks.map((peak, index) => ({ ...peak, index })).filter(isHeard);
    const of = (verdict) => heard.filter((peak) => peak.verdict === verdict);
    const strong = of("over"), near = of("undecided"), weak = of("below"), unjudged = of("not judged");
    const hides = state.hidden.some(isHeard);
    let none = room.words.none_strong;
    if (near.length) none = room.words.none_sure;
    else if (hides) none = weak.length ? room.words.none_of_judged : room.words.none_judged;
    else if (!heard.length) none = room.words.nothing;
    const count = (words, peaks) => words.replace("#", peaks.length);
    $("too-strong").textContent = strong.length ? count(room.words.over, strong) : none;
    list($("strong"), strong);
    group("undecided", count(room.words.undecided, near), near);
    group("below", room.words.below, weak.slice(0, MOST_WEAK));
    group("unjudged", room.words.unjudged, unjudged.slice(0, MOST_WEAK));
  }

  /* A list under its heading; neither where there is nothing in it. */
  function group(name, words, peaks) {
    $(name).textContent = words;
    $(name).hidden = !peaks.length;
    list($(`${name}-list`), peaks);
  }

  function list(box, peaks) {
    box.replaceChildren();
    peaks.forEach((peak) => {
      const button = make("button", peak.way, make("li", "", box));
      /* Without a picture there is nothing to pick out in it: the list says all. */
      const line = make("small", picture ? `${whole(peak.short)} ` : peak.text.split(": ").slice(1).join(": "), button);
      make("b", picture ? whole(peak.against_limit) : "", line);
      button.style.setProperty("--mark", peak.colour);
      button.dataset.peak = peak.index;
      button.addEventListener("click", () => {
        const isOn = pinned && pinned.peak === peak.index;
        pinned = isOn ? null : { peak: peak.index, marked: peak.paths, text: peak.text, colour: peak.colour };
        rest();
      });
    });
  }

  function mark() {
    [...$("change").children].forEach((button, i) => press(button, i === shown.state));
    $("lists").querySelectorAll("button").forEach((button) => {
      press(button, pinned !== null && Number(button.dataset.peak) === pinned.peak);
    });
    if (pinned) say(pinned.text, pinned.colour);
    else sayNothing();
  }

  /* --- mouse, finger, keys -------------------------------------------------------------------- */

  const fingers = new Map();
  let start = null;

  function place(event) {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  /* Read what lies at a place: beside a mouse; under the picture for a finger. */
  function point(x, y, isTap, isFinger) {
    const index = picture.pathAt(x, y, isFinger ? 18 : 7);
    const path = room.states[shown.state].paths[index];
    canvas.classList.toggle("on", index >= 0);
    if (isTap) pinned = path ? { peak: -1, marked: [index], text: path.text, colour: path.colour } : null;
    if (!path || isTap) rest();
    else if (shown.marked[0] !== index || shown.marked.length > 1) change({ marked: [index] });
    if (path) return isFinger ? undefined : sayAt(x, y, path.text, path.colour);
    const thing = isTap ? picture.thingAt(x, y) : "";
    return thing && (isFinger ? say(thing, "") : sayAt(x, y, thing, ""));
  }

  /* What is shown while nothing is pointed at: what was picked last, or nothing. */
  function rest() {
    read.hidden = true;
    change({ marked: pinned ? pinned.marked : [] });
  }

  function down(event) {
    picture.stop();
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
    read.hidden = true;
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

  const ARROWS = { ArrowLeft: [-24, 0], ArrowRight: [24, 0], ArrowUp: [0, -24], ArrowDown: [0, 24] };
  const NEARER = { "+": 0.87, "=": 0.87, "-": 1.15, "_": 1.15 };

  function typed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key], nearer = NEARER[event.key];
    if (!arrow && !nearer) return;
    event.preventDefault();
    if (nearer) picture.zoom(nearer);
    else if (event.shiftKey) picture.move(...arrow);
    else picture.turn(...arrow);
  }

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
    canvas.addEventListener("keydown", typed);
    new ResizeObserver(() => picture.resize()).observe(canvas);
  }

  /* On paper the picture has a size of its own, and what can be opened is open. What a browser prints of a
     canvas in three dimensions is not what was drawn last, so a flat copy of it is printed. */
  const PAPER = [660, 460];

  function printed(isPaper) {
    const [wide, high] = PAPER, paper = $("paper");
    $("picture").style.cssText = isPaper && picture ? `flex: none; width: ${wide}px; height: ${high}px` : "";
    if (isPaper) document.querySelector("details").open = true;
    paper.hidden = !isPaper || !picture;
    if (!picture) return;
    picture.resize();
    [paper.width, paper.height] = [canvas.width, canvas.height];
    paper.getContext("2d").drawImage(canvas, 0, 0);
  }

  window.addEventListener("beforeprint", () => printed(true));
  window.addEventListener("afterprint", () => printed(false));
  setUp();
  try {
    picture = makePicture(room, canvas, $("names"));
  } catch (problem) {
    $("trouble").textContent = room.words.no_picture;
    $("trouble").hidden = false;
    document.body.classList.add("flat");
  }
  fill();
  change({});
  if (!picture) return;
  picture.resize();
  picture.look(room.views[0]);
  listen();
  /* Where a path's point stands in the picture, for whoever wants to point at it from outside. */
  window.hitspot = { onScreen: picture.onScreen, paths: () => room.states[shown.state].paths };
})();
