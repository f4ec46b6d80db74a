// What the page was given: a table of words, numbers and meshes. Words go onto the page as text, never as markup.
const held = JSON.parse(document.getElementById("fp-table").textContent);
const looks = held.looks;
const $ = (name) => document.getElementById(`fp-${name}`);
const dark = window.matchMedia("(prefers-color-scheme: dark)");
const still = window.matchMedia("(prefers-reduced-motion: reduce)");
const theme = () => held.themes[dark.matches ? "dark" : "light"];

function bytesOf(text) {
  const plain = atob(text);
  const bytes = new Uint8Array(plain.length);
  for (let i = 0; i < plain.length; i += 1) bytes[i] = plain.charCodeAt(i);
  return bytes;
}

// The bytes of all meshes. Fails where the browser cannot open what is squeezed.
let meshBytes = null;
async function openMeshes() {
  const squeezed = new Blob([bytesOf(held.squeezed)]).stream();
  meshBytes = new Uint8Array(await new Response(squeezed.pipeThrough(new DecompressionStream("deflate"))).arrayBuffer());
  held.squeezed = "";
}

// A mesh as the library wants it; what it is made of follows one after the other, see packing.py.
function geometryOf(row) {
  let at = row.at;
  const steps = (count) => {
    const values = new Uint16Array(count);
    let value = 0;
    for (let i = 0; i < count; i += 1) {
      const turned = meshBytes[at + i] + 256 * meshBytes[at + count + i];
      value += turned & 1 ? -(turned + 1) / 2 : turned / 2;
      values[i] = value;
    }
    at += 2 * count;
    return values;
  };
  const columns = [steps(row.corners), steps(row.corners), steps(row.corners)];
  const whole = new Uint16Array(3 * row.corners);
  const places = new Float32Array(whole.length);
  for (let i = 0; i < whole.length; i += 1) {
    whole[i] = columns[i % 3][Math.floor(i / 3)];
    places[i] = row.low[i % 3] + row.step * whole[i];
  }
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", new THREE.BufferAttribute(places, 3));
  if (row.texture) {
    const both = [new Int16Array(steps(row.corners).buffer), new Int16Array(steps(row.corners).buffer)];
    const tiles = Float32Array.from({ length: 2 * row.corners }, (_, i) => both[i % 2][i >> 1] / looks.per_tile);
    geometry.setAttribute("uv", new THREE.BufferAttribute(tiles, 2));
  }
  geometry.setIndex(new THREE.BufferAttribute(steps(3 * row.faces), 1));
  if (row.share) {
    const share = Float32Array.from(meshBytes.subarray(at, at + row.corners), (n) => n / 255);
    geometry.setAttribute("share", new THREE.BufferAttribute(share, 1));
  }
  geometry.computeVertexNormals();
  geometry.userData.whole = whole;
  return geometry;
}

const geometries = new Map();
function geometry(number) {
  if (!geometries.has(number)) geometries.set(number, geometryOf(held.meshes[number]));
  return geometries.get(number);
}

// Normals that are one where corners were doubled for a crisp edge, so that a grown surface has no gaps.
function withSmooth(shape) {
  if (shape.getAttribute("smooth_")) return shape;
  const whole = shape.userData.whole;
  const normals = shape.getAttribute("normal").array;
  const sums = new Map();
  const keys = new Float64Array(whole.length / 3);
  for (let i = 0; i < keys.length; i += 1) {
    keys[i] = whole[3 * i] + 65536 * (whole[3 * i + 1] + 65536 * whole[3 * i + 2]);
    const sum = sums.get(keys[i]) || [0, 0, 0];
    for (let k = 0; k < 3; k += 1) sum[k] += normals[3 * i + k];
    sums.set(keys[i], sum);
  }
  const smooth = new Float32Array(whole.length);
  keys.forEach((key, i) => {
    const sum = sums.get(key);
    const long = Math.hypot(...sum) || 1;
    for (let k = 0; k < 3; k += 1) smooth[3 * i + k] = sum[k] / long;
  });
  shape.setAttribute("smooth_", new THREE.BufferAttribute(smooth, 3));
  return shape;
}

// Pictures that surfaces are covered with.
function texture(name, whenThere) {
  if (!held.textures[name]) return null;
  const image = new Image();
  const made = new THREE.Texture(image);
  made.wrapS = made.wrapT = THREE.RepeatWrapping;
  made.anisotropy = 4;
  image.onload = () => {
    made.needsUpdate = true;
    whenThere();
  };
  image.src = held.textures[name];
  return made;
}

function rgb(hex) {
  return [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
}

function between(a, b, share) {
  return a.map((x, i) => x + (b[i] - x) * share);
}
