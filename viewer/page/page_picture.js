/* The picture: what is shown -> three.js objects, a camera that circles the room, names laid over it.
   Nothing here knows of buttons; page.js owns what is shown and calls `draw`. */
"use strict";

function makePicture(room, canvas, namesBox) {
  const renderer = new THREE.WebGLRenderer({ canvas, antialias: true });
  renderer.setClearColor(0xffffff);
  const scene = new THREE.Scene();
  const camera = new THREE.PerspectiveCamera(room.view.angle_deg, 1, 0.05, 100);
  camera.up.set(0, 0, 1);
  scene.add(camera, new THREE.AmbientLight(0xffffff, 0.68));
  for (const [direction, strength] of room.view.lights) {
    const light = new THREE.DirectionalLight(0xffffff, 0.36 * strength);
    light.position.set(...direction);
    camera.add(light, light.target);
  }
  const solid = new THREE.Group(), sound = new THREE.Group(), focus = new THREE.Group();
  const waves = new THREE.Group(), light = makeLight(renderer);
  let film = null;
  scene.add(solid, sound, focus, waves);
  const eye = { azimuth: 0, elevation: 0.5, distance: 5, target: new THREE.Vector3(), inside: false };
  const wideness = (room.view.angle_deg * Math.PI) / 180;
  const upright = new THREE.Vector3(0, 1, 0);
  let shown = null, edges = null, width = 1, height = 1, waiting = false, centres = [];

  const state = () => room.states[shown.state];
  const vector = (point) => new THREE.Vector3(point[0], point[1], point[2]);
  const isSeen = (plane) =>
    camera.position.x * plane[0] + camera.position.y * plane[1] + camera.position.z * plane[2] > plane[3];

  /* --- what is drawn -------------------------------------------------------------------------- */

  function empty(group) {
    for (const child of [...group.children]) {
      group.remove(child);
      child.geometry.dispose();
      child.material.dispose();
    }
  }

  function faces(skin, side, opacity) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.Float32BufferAttribute(skin.triangles, 3));
    geometry.computeVertexNormals();
    const style = { color: skin.colour, side, opacity, transparent: opacity < 1, depthWrite: opacity === 1 };
    const flat = skin.light === "flat" || opacity < 1 || skin.map || skin.shades;
    if (skin.map) {
      const lies = light.texture(skin.map);
      geometry.setAttribute("uv", new THREE.Float32BufferAttribute(light.places(skin.triangles, skin.map, lies), 2));
      style.map = lies.found;
    } else if (skin.shades) {
      geometry.setAttribute("color", new THREE.Float32BufferAttribute(light.shades(skin.shades), 3));
      style.vertexColors = true;
    }
    const material = flat ? new THREE.MeshBasicMaterial(style) : new THREE.MeshLambertMaterial(style);
    const mesh = new THREE.Mesh(geometry, material);
    mesh.userData = { skin, kind: skin.kind };
    return mesh;
  }

  /* Round bars from a to b, one draw call for all; `only(i)` picks which of them. */
  function bars(segments, radius, material) {
    const mesh = new THREE.InstancedMesh(new THREE.CylinderGeometry(1, 1, 1, 8, 1), material, segments.length);
    const matrix = new THREE.Matrix4(), turn = new THREE.Quaternion();
    mesh.userData.matrices = segments.map(([a, b]) => {
      const from = vector(a), way = vector(b).sub(from), length = way.length();
      turn.setFromUnitVectors(upright, way.clone().divideScalar(length || 1));
      matrix.compose(from.addScaledVector(way, 0.5), turn, new THREE.Vector3(radius, length, radius));
      return matrix.clone();
    });
    mesh.frustumCulled = false;
    keep(mesh, () => true);
    return mesh;
  }

  function keep(mesh, only) {
    mesh.count = 0;
    mesh.userData.matrices.forEach((matrix, i) => only(i) && mesh.setMatrixAt(mesh.count++, matrix));
    mesh.instanceMatrix.needsUpdate = true;
  }

  /* Bars never get thinner than a line that can be seen and pointed at. */
  const stout = (radius) => Math.max(radius, (1.6 * fit().distance * Math.tan(wideness / 2)) / height);
  const plain = (colour) => new THREE.MeshBasicMaterial({ color: colour });
  const pairs = (points) => points.slice(1).map((point, i) => [points[i], point]);

  function dashes(points, dash) {
    const from = vector(points[0]), way = vector(points[1]).sub(from), length = way.length(), found = [];
    for (let at = 0; at < length; at += (dash * 5) / 3) {
      const ends = [at, Math.min(at + dash, length)];
      found.push(ends.map((end) => from.clone().addScaledVector(way, end / length).toArray()));
    }
    return found;
  }

  function discs(path, radius, colour, lift) {
    return path.spots.map(([at, normal]) => {
      const mesh = new THREE.Mesh(new THREE.CircleGeometry(radius, 28), plain(colour));
      mesh.material.side = THREE.DoubleSide;
      const away = vector(normal);
      /* The side of the surface that is looked at: a disc seen through a hidden wall lies before it. */
      const side = camera.position.clone().sub(vector(at)).dot(away) < 0 ? -1 : 1;
      mesh.position.copy(vector(at)).addScaledVector(away, side * lift);
      mesh.quaternion.setFromUnitVectors(new THREE.Vector3(0, 0, 1), away);
      mesh.userData = { at: vector(at), away, lift };
      return mesh;
    });
  }

  /* Where something is held. */
  function knob(at) {
    const mesh = new THREE.Mesh(new THREE.SphereGeometry(1.5 * stout(room.view.tube), 10, 8), plain(room.look.hook));
    mesh.position.copy(vector(at));
    return mesh;
  }

  const isHeard = (thing) =>
    thing.seat === shown.seat && (shown.speaker === "" || thing.speaker === shown.speaker);
  const isOn = (layer) => layer === "room" || shown.layers[layer];
  const paths = () => state().paths.filter((path) => isHeard(path) && isOn(path.layer));

  function buildSolid() {
    empty(solid);
    for (const skin of state().skins) {
      if (!isOn(skin.layer) || (skin.seat !== undefined && !isHeard(skin))) continue;
      if (skin.layer === "patches" || skin.kind === "zone") {
        solid.add(faces(skin, THREE.DoubleSide, skin.opacity));
      } else if (skin.kind === "pane") {
        solid.add(faces(skin, THREE.FrontSide, skin.opacity), faces(skin, THREE.BackSide, 0.25));
      } else {
        solid.add(faces(skin, skin.kind !== "face" ? THREE.DoubleSide : THREE.FrontSide, 1));
      }
    }
    for (const line of state().lines) {
      if (isOn(line.layer) && (line.seat === undefined || isHeard(line))) {
        const thin = line.kind === "cord" ? 0.6 : 1;
        const mesh = bars(line.segments, thin * stout(line.radius), plain(line.colour));
        mesh.userData.kind = line.kind;
        solid.add(mesh);
      }
    }
    if (shown.layers.panels) solid.add(...state().hooks.map(knob));
    const kept = state().edges.filter((edge) => isOn(edge.layer));
    edges = bars(kept.map((edge) => edge.ends), stout(room.view.edge), plain(room.look.edge));
    edges.userData.facets = kept.map((edge) => edge.facets);
    solid.add(edges);
  }

  function buildSound() {
    empty(sound);
    if (shown.layers.direct) {
      const heard = state().direct.filter(isHeard).flatMap((path) => dashes(path.points, room.view.dash));
      sound.add(bars(heard, stout(room.view.direct), plain(room.look.ink)));
    }
    for (const path of paths()) {
      sound.add(bars(pairs(path.points), stout(path.radius), new THREE.MeshLambertMaterial({ color: path.colour })));
      if (path.layer !== "others") {
        sound.add(...discs(path, room.view.ring, "#ffffff", 5 * room.view.raise));
        sound.add(...discs(path, room.view.spot, path.colour, 7 * room.view.raise));
      }
    }
  }

  function buildFocus() {
    empty(focus);
    for (const path of shown.marked.map((index) => state().paths[index])) {
      const wide = 1.5 * Math.max(stout(path.radius), stout(room.view.tube));
      focus.add(bars(pairs(path.points), wide, plain(room.look.accent)));
      focus.add(...discs(path, 1.35 * room.view.ring, room.look.accent, 4 * room.view.raise));
      focus.add(...discs(path, room.view.ring, "#ffffff", 6 * room.view.raise));
      focus.add(...discs(path, room.view.spot, path.colour, 8 * room.view.raise));
    }
    /* What is marked is seen through whatever stands before it. */
    focus.children.forEach((mesh, i) => {
      mesh.material.depthTest = false;
      mesh.material.transparent = true;
      mesh.renderOrder = i + 1;
    });
  }

  /* --- the camera ----------------------------------------------------------------------------- */

  function away(azimuth, elevation) {
    const flat = Math.cos(elevation);
    return new THREE.Vector3(flat * Math.cos(azimuth), flat * Math.sin(azimuth), Math.sin(elevation));
  }

  /* How far, and past which point, to stand so that every corner of the room is in the picture and the
     margins on opposite sides are equal. */
  function fit() {
    const towards = away(eye.azimuth, eye.elevation);
    const right = new THREE.Vector3(-Math.sin(eye.azimuth), Math.cos(eye.azimuth), 0);
    const up = towards.clone().cross(right);
    const tall = Math.tan(wideness / 2), wide = (tall * width) / height;
    const target = vector(room.view.middle);
    let distance = 0;
    for (let round = 0; round < 4; round++) {
      const corners = state().corners.map((corner) => {
        const point = vector(corner).sub(target);
        return [point.dot(right) / wide, point.dot(up) / tall, point.dot(towards)];
      });
      distance = Math.max(...corners.map(([x, y, z]) => z + 1.07 * Math.max(Math.abs(x), Math.abs(y))));
      const balance = (axis) => {
        const shares = corners.map((corner) => corner[axis] / (distance - corner[2]));
        return ((Math.min(...shares) + Math.max(...shares)) / 2) * distance;
      };
      target.addScaledVector(right, balance(0) * wide).addScaledVector(up, balance(1) * tall);
    }
    return { distance, target };
  }

  function placeCamera() {
    const limit = eye.inside ? 1.5 : 1.55;
    eye.elevation = Math.min(limit, Math.max(-limit, eye.elevation));
    camera.fov = eye.inside ? 80 : room.view.angle_deg;
    const towards = away(eye.azimuth, eye.elevation);
    if (eye.inside) {
      camera.position.copy(eye.target);
      camera.lookAt(eye.target.clone().sub(towards));
    } else {
      camera.position.copy(eye.target).addScaledVector(towards, eye.distance);
      camera.lookAt(eye.target);
    }
    camera.near = eye.inside ? 0.12 : Math.max(0.05, eye.distance - 2 * room.view.size);
    camera.far = eye.distance + 4 * room.view.size;
    camera.aspect = width / height;
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
  }

  function look(view) {
    eye.inside = view.inside;
    eye.azimuth = view.azimuth;
    eye.elevation = view.elevation;
    const { distance, target } = fit();
    eye.target.copy(eye.inside ? vector(state().seats[shown.seat]) : target);
    eye.distance = distance;
    later();
  }

  function turn(dx, dy) {
    const speed = (eye.inside ? -1.2 : 3.2) / Math.max(300, Math.min(width, height));
    eye.azimuth -= dx * speed;
    eye.elevation += dy * speed;
    later();
  }

  function zoom(factor) {
    const whole = fit().distance;
    eye.distance = Math.min(2 * whole, Math.max(0.15 * whole, eye.distance * factor));
    later();
  }

  function move(dx, dy) {
    if (eye.inside) return;
    const metres = (2 * eye.distance * Math.tan(wideness / 2)) / height;
    const right = new THREE.Vector3().setFromMatrixColumn(camera.matrixWorld, 0);
    const up = new THREE.Vector3().setFromMatrixColumn(camera.matrixWorld, 1);
    eye.target.addScaledVector(right, -dx * metres).addScaledVector(up, dy * metres);
    const off = eye.target.clone().sub(vector(room.view.middle)).clampLength(0, room.view.size);
    eye.target.copy(vector(room.view.middle)).add(off);
    later();
  }

  /* --- names and pointing --------------------------------------------------------------------- */

  function onScreen(point) {
    const flat = vector(point).project(camera);
    return flat.z > 1 || flat.z < -1 ? null : [((flat.x + 1) * width) / 2, ((1 - flat.y) * height) / 2];
  }

  /* Most important first; a name that would cover an earlier one is left out. */
  function placeNames() {
    const taken = [];
    state().names.forEach((name, i) => {
      const label = centres[i], at = shown.layers.names && isOn(name.layer) && onScreen(name.at);
      const faces = name.plane === null || isSeen(name.plane);
      label.hidden = true;
      if (!at || !faces) return;
      label.hidden = false;
      const w = label.offsetWidth, h = label.offsetHeight, up = name.kind === "thing" ? 1.4 * h : h / 2;
      const x = Math.min(width - w - 2, Math.max(2, at[0] - w / 2)), y = at[1] - up;
      const box = [x - 3, y - 1, x + w + 3, y + h + 1];
      const off = at[0] < -9 || at[0] > width + 9 || y < 0 || y + h > height;
      const hits = taken.some((t) => box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1]);
      label.hidden = off || hits;
      if (label.hidden) return;
      taken.push(box);
      label.style.transform = `translate(${x}px, ${y}px)`;
    });
  }

  function buildNames() {
    namesBox.replaceChildren();
    centres = state().names.map((name) => {
      const label = document.createElement("span");
      label.textContent = name.text;
      label.className = name.kind;
      namesBox.append(label);
      return label;
    });
  }

  function distanceTo(x, y, a, b) {
    const dx = b[0] - a[0], dy = b[1] - a[1], long = dx * dx + dy * dy;
    const share = long ? Math.min(1, Math.max(0, ((x - a[0]) * dx + (y - a[1]) * dy) / long)) : 0;
    return Math.hypot(x - a[0] - share * dx, y - a[1] - share * dy);
  }

  /* Index of the path nearest to a place in the picture, -1 where none is within reach. */
  function pathAt(x, y, reach) {
    let best = -1, nearest = reach;
    state().paths.forEach((path, index) => {
      if (!isHeard(path) || !isOn(path.layer)) return;
      const flat = path.points.map(onScreen);
      for (let i = 1; i < flat.length; i++) {
        if (!flat[i - 1] || !flat[i]) continue;
        const distance = distanceTo(x, y, flat[i - 1], flat[i]);
        if (distance < nearest - 0.5) [best, nearest] = [index, distance];
      }
    });
    return best;
  }

  function thingAt(x, y) {
    const ray = new THREE.Raycaster();
    ray.setFromCamera({ x: (2 * x) / width - 1, y: 1 - (2 * y) / height }, camera);
    const hits = ray.intersectObjects(solid.children.filter((mesh) => mesh.userData.skin));
    const words = hits.map((hit) => hit.object.userData.skin.text).filter((text) => text);
    return words[0] || "";
  }

  /* A panel seen from its back hides nothing: it hangs on a wall that is left out. */
  function showThrough(material, plane) {
    const faces = isSeen(plane);
    material.opacity = faces ? 1 : 0.25;
    material.transparent = !faces;
    material.depthWrite = faces;
  }

  /* --- drawing -------------------------------------------------------------------------------- */

  function later() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(render);
  }

  function render() {
    waiting = false;
    placeCamera();
    for (const mesh of solid.children) {
      mesh.visible = !eye.inside || !["zone", "head"].includes(mesh.userData.kind);
      if (mesh.userData.kind === "panel" && mesh.userData.skin) showThrough(mesh.material, mesh.userData.skin.plane);
    }
    const planes = state().planes, seen = planes.map(isSeen);
    const meets = edges.userData.facets;
    keep(edges, (i) => !meets[i].length || meets[i].some((facet) => seen[facet]));
    for (const mesh of [...sound.children, ...focus.children]) {
      const { at, away: normal, lift } = mesh.userData;
      if (!at) continue;
      const side = camera.position.clone().sub(at).dot(normal) < 0 ? -1 : 1;
      mesh.position.copy(at).addScaledVector(normal, side * lift);
    }
    renderer.render(scene, camera);
    placeNames();
  }

  function resize() {
    const share = shown && eye.distance / fit().distance;
    width = Math.max(1, canvas.clientWidth);
    height = Math.max(1, canvas.clientHeight);
    renderer.setPixelRatio(Math.min(2.5, window.devicePixelRatio || 1));
    renderer.setSize(width, height, false);
    if (shown) {
      eye.distance = share * fit().distance;
      [buildSolid, buildSound, buildFocus].forEach((build) => build());
      /* The new size has emptied the picture: fill it before the browser shows it. */
      render();
    }
  }

  /* Draw what is shown; only what differs from the last time is built anew. */
  function draw(next) {
    const before = shown;
    shown = next;
    const differs = (...keys) => !before || keys.some((key) => before[key] !== shown[key]);
    if (differs("state")) buildNames();
    if (differs("state", "seat", "speaker", "layers")) [buildSolid, buildSound].forEach((build) => build());
    if (differs("state", "seat", "speaker", "layers", "marked")) buildFocus();
    later();
  }

  /* --- the film ------------------------------------------------------------------------------- */

  const TURN_MS = 4600, SOUND_MS = 4400, HOLD_MS = 1000, HEARD_S = 0.02, TAIL_M = 0.5;

  /* A slow turn, then the first 20 ms of sound along the paths that are shown; `say` gets the time. */
  function animate(say) {
    if (film) return stop();
    const start = performance.now(), azimuth = eye.azimuth, swing = eye.inside ? 0 : 0.56;
    const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    const turning = still ? 0 : TURN_MS;
    film = { say, azimuth };
    const step = (now) => {
      if (!film) return;
      const t = now - start;
      if (t > turning + SOUND_MS + HOLD_MS) return stop();
      eye.azimuth = azimuth + (t < turning ? swing * Math.sin((2 * Math.PI * t) / turning) : 0);
      const heard = Math.min(1, Math.max(0, (t - turning) / SOUND_MS)) * HEARD_S;
      sound.visible = focus.visible = false;
      travel(heard * room.view.speed_m_s);
      say(t < turning ? "" : `${Math.round(heard * 1000)} ms after the sound left the speakers`);
      render();
      film.next = requestAnimationFrame(step);
    };
    film.next = requestAnimationFrame(step);
  }

  function stop() {
    if (!film) return;
    const { say, azimuth, next } = film;
    film = null;
    cancelAnimationFrame(next);
    empty(waves);
    eye.azimuth = azimuth;
    sound.visible = focus.visible = true;
    say("");
    later();
  }

  /* Every path as far as the sound has come: a pale trail, a strong end, a ball at the front. */
  function travel(reach) {
    empty(waves);
    if (reach <= 0) return;
    const direct = shown.layers.direct ? state().direct.filter(isHeard) : [];
    const all = [...paths(), ...direct.map((path) => ({ ...path, colour: room.look.ink, radius: room.view.direct }))];
    for (const path of all) {
      const fresh = [], trail = [];
      let gone = 0;
      for (const [a, b] of pairs(path.points)) {
        const from = vector(a), way = vector(b).sub(from), long = way.length();
        const until = Math.min(1, (reach - gone) / long), since = Math.max(0, (reach - TAIL_M - gone) / long);
        if (until <= 0) break;
        const at = (share) => from.clone().addScaledVector(way, share).toArray();
        if (since < until) fresh.push([at(since), at(until)]);
        if (since > 0) trail.push([a, at(Math.min(since, until))]);
        if (until < 1) {
          const ball = new THREE.Mesh(new THREE.SphereGeometry(2.6 * stout(room.view.tube), 14, 10), plain(path.colour));
          ball.position.copy(vector(at(until)));
          waves.add(ball);
        }
        gone += long;
      }
      const pale = plain(path.colour);
      pale.transparent = true;
      pale.opacity = 0.35;
      if (trail.length) waves.add(bars(trail, 0.7 * stout(path.radius), pale));
      if (fresh.length) waves.add(bars(fresh, stout(path.radius), plain(path.colour)));
    }
  }

  return { draw, look, turn, zoom, move, resize, pathAt, thingAt, onScreen, animate, stop };
}
