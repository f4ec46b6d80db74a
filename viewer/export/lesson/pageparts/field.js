// So long after the last picture of a motion the field rests, ms.
const REST_MS = 160;

function drawsBySoftware() {
  const context = document.createElement("canvas").getContext("webgl2");
  const known = context && context.getExtension("WEBGL_debug_renderer_info");
  const name = known ? String(context.getParameter(known.UNMASKED_RENDERER_WEBGL)) : "";
  if (context) context.getExtension("WEBGL_lose_context")?.loseContext();
  return /swiftshader|llvmpipe|software/i.test(name);
}

// The field: draws the solids of a step, and the picture of numbers behind the names.
class Field {
  // canvas : where it draws; onDrawn is called after every picture, onRest after the last of a motion. Throws where the browser draws no 3D.
  constructor(canvas) {
    this.canvas = canvas;
    // Where no graphics card helps, smooth edges cost most: then the picture is drawn finer once it rests.
    this.bySoftware = drawsBySoftware();
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: !this.bySoftware, stencil: true });
    this.rests = true;
    this.resting = 0;
    this.held = false;
    this.scene = new THREE.Scene();
    this.numbers = new THREE.Scene();
    this.cameras = { true: new THREE.OrthographicCamera(), false: new THREE.PerspectiveCamera() };
    this.target = new THREE.WebGLRenderTarget(1, 1, { minFilter: THREE.NearestFilter, magFilter: THREE.NearestFilter });
    this.covers = {};
    for (const name of ["fibres", "bands", "spongy"]) this.covers[name] = texture(name, () => this.ask());
    this.step = null;
    this.eye = null;
    this.glassy = [];
    this.gone = [];
    this.asked = false;
    this.onDrawn = () => {};
    this.onRest = () => {};
  }

  // --- what is shown

  show(step) {
    this.step = step;
    for (const scene of [this.scene, this.numbers]) {
      this.gone.push(...scene.children);
      scene.clear();
    }
    this.glassy = [];
    for (const part of step.parts) {
      for (const solid of solidOf(part, step.portal, this.covers)) this.scene.add(solid);
      if (!part.glassy) this.numbers.add(numberOf(part, step.portal));
    }
    if (step.portal) for (const solid of portalSolids(step)) this.scene.add(solid);
    for (const solid of this.scene.children) {
      if (!solid.userData.glassy) continue;
      solid.geometry.computeBoundingSphere();
      this.glassy.push(solid);
    }
    const back = theme().background;
    this.renderer.setClearColor(back, 1);
    this.ask();
  }

  get triangles() {
    return this.step.parts.reduce((sum, part) => sum + held.meshes[part.mesh].faces, 0);
  }

  // --- size and eye

  get width() { return this.canvas.clientWidth || 1; }
  get height() { return this.canvas.clientHeight || 1; }

  resize() {
    const usual = Math.min(window.devicePixelRatio || 1, 2);
    const ratio = this.bySoftware ? (this.rests ? Math.max(usual, 2) : 1) : usual;
    if (this.renderer.getPixelRatio() !== ratio) this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(this.width, this.height, false);
  }

  // While a hand or a flight holds the field it does not rest.
  hold(held) {
    this.held = held;
    if (!held) this.ask();
  }

  // Called a little after the last picture of a motion.
  rest() {
    this.resting = 0;
    if (this.held || this.asked) return;
    this.rests = true;
    this.resize();
    this.draw();
    this.onRest();
  }

  look(eye) {
    this.eye = eye;
    if (this.rests) {
      this.rests = false;
      this.resize();
    }
    this.ask();
  }

  placed() {
    const { eye, step } = this;
    const camera = this.cameras[eye.parallel];
    const away = eye.parallel ? looks.far : eye.half / Math.tan((looks.open * Math.PI) / 360);
    camera.position.copy(eye.focus).addScaledVector(eye.towards, away);
    camera.up.copy(eye.up);
    camera.lookAt(eye.focus);
    const depth = camera.position.clone().sub(vector(step.centre)).dot(eye.towards);
    camera.near = Math.max(depth - step.reach, 1);
    camera.far = Math.max(depth + step.reach, 2);
    const aspect = this.width / this.height;
    if (eye.parallel) {
      camera.top = eye.half;
      camera.bottom = -eye.half;
      camera.right = eye.half * aspect;
      camera.left = -camera.right;
    } else {
      camera.fov = looks.open;
      camera.aspect = aspect;
    }
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    return camera;
  }

  // --- drawing: once a frame, and only when something is another

  ask() {
    if (this.asked || !this.step || !this.eye) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.draw();
      // Counted from when the picture is there: drawing it may take longer than that.
      clearTimeout(this.resting);
      requestAnimationFrame(() => {
        clearTimeout(this.resting);
        this.resting = setTimeout(() => this.rest(), REST_MS);
      });
    });
  }

  draw() {
    const camera = this.placed();
    // What is see-through is drawn from the back to the front, as a whole.
    const far = (solid) => solid.geometry.boundingSphere.center.dot(this.eye.towards);
    this.glassy.sort((a, b) => far(a) - far(b)).forEach((solid, i) => { solid.renderOrder = 10 + i; });
    this.renderer.setRenderTarget(null);
    this.renderer.render(this.scene, camera);
    // Only now: what is drawn anew shares its programs with what was.
    this.gone.splice(0).forEach((solid) => solid.material.dispose());
    this.onDrawn(camera);
  }

  // Which structure is where, and how far: { width, height, is(x, y), far(x, y) } at half the size.
  seen() {
    const camera = this.placed();
    const width = Math.max(1, Math.round(this.width / 2));
    const height = Math.max(1, Math.round(this.height / 2));
    this.target.setSize(width, height);
    this.renderer.setRenderTarget(this.target);
    this.renderer.setClearColor(0x000000, 0);
    this.renderer.render(this.numbers, camera);
    const pixels = new Uint8Array(4 * width * height);
    this.renderer.readRenderTargetPixels(this.target, 0, 0, width, height, pixels);
    this.renderer.setRenderTarget(null);
    this.renderer.setClearColor(theme().background, 1);
    const at = (x, y) => 4 * ((height - 1 - y) * width + x);
    return {
      width, height, camera,
      is: (x, y) => pixels[at(x, y)] + 256 * pixels[at(x, y) + 1] - 1,
      far: (x, y) => (pixels[at(x, y) + 2] + 256 * pixels[at(x, y) + 3]) / 65536,
    };
  }
}

// --- the portal: a see-through channel with a ring at each end, and collars on what it touches

function turnedTo(way) {
  return new THREE.Quaternion().setFromUnitVectors(new THREE.Vector3(0, 0, 1), vector(way).normalize());
}

function stood(shape, paint, origin, way, radius, length) {
  const solid = new THREE.Mesh(shape, paint);
  solid.position.copy(vector(origin));
  solid.quaternion.copy(turnedTo(way));
  solid.scale.set(radius, radius, length === undefined ? radius : length);
  solid.updateMatrixWorld();
  return solid;
}

function portalSolids(step) {
  const { portal, down } = step;
  const length = vector(portal.end).sub(vector(portal.entry)).dot(vector(portal.way));
  const wall = new THREE.CylinderGeometry(1, 1, 1, 64, 1, true).rotateX(Math.PI / 2).translate(0, 0, 0.5);
  const accent = rgb(theme().accent);
  const soft = { ambient: 0.35, diffuse: 0.75 };
  const stands = [portal.entry, portal.way, portal.radius];
  const made = [];
  if (down) {
    const tube = material(LIT, { TUBE: 1 }, litUniforms(rgb(looks.portal), soft), { side: THREE.BackSide });
    made.push(stood(wall, tube, ...stands, length));
  } else {
    for (const [side, opacity, order] of [[THREE.BackSide, 0.34, 1000], [THREE.FrontSide, 0.24, 1001]]) {
      const glass = litUniforms(rgb(looks.portal), { ...soft, opacity });
      const paint = material(LIT, { TUBE: 0 }, glass, { side, transparent: true, depthWrite: false });
      const solid = stood(wall, paint, ...stands, length);
      solid.renderOrder = order;
      made.push(solid);
    }
  }
  const thick = down ? looks.ring_down : looks.ring;
  const ring = new THREE.TorusGeometry(down ? 1 + thick : 1, thick, 10, 64);
  [portal.entry, portal.end].forEach((place, i) => {
    const front = down && i === 0 ? { depthTest: false, transparent: true } : {};
    const solid = stood(ring, material(LIT, {}, litUniforms(accent, soft), front), place, portal.way, portal.radius);
    if (front.transparent) solid.renderOrder = 2500;
    made.push(solid);
  });
  const collar = new THREE.TorusGeometry(1, looks.ring, 10, 64);
  if (!down) {
    for (const [x, y, z, a, b, c, radius] of portal.collars) {
      made.push(stood(collar, material(LIT, {}, litUniforms(accent, soft)), [x, y, z], [a, b, c], radius));
    }
  }
  return made.concat(step.floors.map((row) => floorOf(row, portal)));
}

// What closes the view down a channel, and what is marked on the disc.
function floorOf(row, portal) {
  const shape = geometry(row.mesh);
  if (row.kind === "floor") {
    const glass = row.opacity < 1 ? { transparent: true, depthWrite: false } : {};
    const uniforms = litUniforms(rgb(row.colour), {
      ambient: 0.3, diffuse: 0.8, opacity: row.opacity, ...boreUniforms(portal),
    });
    const solid = new THREE.Mesh(shape, material(LIT, { FLOOR: 1 }, uniforms, { ...glass, side: THREE.DoubleSide }));
    solid.renderOrder = 900;
    return solid;
  }
  const front = row.kind === "numerals" ? { depthTest: false, transparent: true } : {};
  const solid = new THREE.Mesh(shape, material(FLAT, {}, { colour: vector(rgb(looks.ink)), opacity: 1 }, front));
  solid.renderOrder = row.kind === "numerals" ? 3000 : 0;
  return solid;
}
