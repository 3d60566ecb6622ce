/* Light on faces, as it was worked out when the page was written: textures and colours for three.js. */
"use strict";

function makeLight(renderer) {
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const made = new Map();

  /* A number between 0 and 1 that looks drawn by lot, the same for the same two whole numbers. */
  function lot(i, j) {
    const h = Math.imul(Math.imul(i, 374761393) + Math.imul(j, 668265263), 1274126177);
    return ((h ^ (h >>> 15)) & 0xffff) / 0x10000;
  }

  /* Courses of boards or blocks: brightness at a place of a face. */
  const courses = {
    boards: { tall: 0.145, long: 1.9, joint: 0.004, tint: 0.075, dark: 0.24, bond: false },
    blocks: { tall: 0.225, long: 0.45, joint: 0.012, tint: 0.02, dark: 0.08, bond: true },
  };

  function brightness(course, u, v) {
    const row = Math.floor(v / course.tall);
    const at = (u + (course.bond ? (row & 1) * course.long * 0.5 : lot(row, 7) * course.long)) / course.long;
    const across = v / course.tall - row, along = at - Math.floor(at);
    const off = Math.min(Math.min(across, 1 - across) * course.tall, Math.min(along, 1 - along) * course.long);
    const tint = 1 + course.tint * (lot(row, Math.floor(at)) - 0.5);
    return off < course.joint / 2 ? tint * (1 - course.dark) : tint;
  }

  /* The light on a face, with the courses that it shows, as a texture. */
  function texture(map) {
    if (made.has(map)) return made.get(map);
    const light = bytes(map.values), [nu, nv] = map.size, course = courses[map.pattern];
    const long = map.step[0] * (nu - 1), tall = map.step[1] * (nv - 1);
    const fine = course ? Math.max(1, Math.min(12, Math.ceil(map.step[0] / 0.006), Math.ceil(1400 / nu))) : 1;
    const w = (nu - 1) * fine + 1, h = (nv - 1) * fine + 1, data = new Uint8Array(4 * w * h);
    for (let j = 0; j < h; j++) {
      for (let i = 0; i < w; i++) {
        const x = i / fine, y = j / fine, a = Math.min(nu - 2, Math.floor(x)), b = Math.min(nv - 2, Math.floor(y));
        const p = x - a, q = y - b, k = b * nu + a;
        let value = (light[k] * (1 - p) + light[k + 1] * p) * (1 - q) + (light[k + nu] * (1 - p) + light[k + nu + 1] * p) * q;
        if (course) value *= brightness(course, map.low[0] + (x / (nu - 1)) * long, map.low[1] + (y / (nv - 1)) * tall);
        data.set([value, value, value, 255], 4 * (j * w + i));
      }
    }
    const found = new THREE.DataTexture(data, w, h, THREE.RGBAFormat);
    found.magFilter = THREE.LinearFilter;
    found.minFilter = THREE.LinearMipmapLinearFilter;
    found.generateMipmaps = true;
    found.anisotropy = renderer.capabilities.getMaxAnisotropy();
    found.needsUpdate = true;
    const lies = { found, w, h, fine };
    made.set(map, lies);
    return lies;
  }

  /* Where each corner of a face lies in the texture of its light. */
  function places(triangles, map, { w, h, fine }) {
    const flat = [];
    for (let i = 0; i < triangles.length; i += 3) {
      const off = [0, 1, 2].map((axis) => triangles[i + axis] - map.origin[axis]);
      const [u, v] = map.axes.map((axis) => off[0] * axis[0] + off[1] * axis[1] + off[2] * axis[2]);
      flat.push((((u - map.low[0]) / map.step[0]) * fine + 0.5) / w, (((v - map.low[1]) / map.step[1]) * fine + 0.5) / h);
    }
    return flat;
  }

  const shades = (text) => [...bytes(text)].flatMap((shade) => [shade / 255, shade / 255, shade / 255]);

  return { texture, places, shades };
}
