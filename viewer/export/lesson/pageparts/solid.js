// How solids are drawn: the light, the dark edge, the glass and the rims of the window, in the same numbers.
const CORNER = `
varying vec3 vNormal_; varying vec3 vPlace; varying vec2 vTile; varying float vShare;
#ifdef GROWN
attribute vec3 smooth_; uniform float grown;
#endif
#ifdef TENDON
attribute float share;
#endif
void main() {
  vec3 place = position;
#ifdef GROWN
  place += grown * smooth_;
#endif
#ifdef TENDON
  vShare = share;
#endif
  vPlace = place; vTile = uv; vNormal_ = normalMatrix * normal;
  gl_Position = projectionMatrix * modelViewMatrix * vec4(place, 1.0);
}`;

const CHANNEL = `
varying vec3 vNormal_; varying vec3 vPlace; varying vec2 vTile; varying float vShare;
uniform vec3 colour; uniform float opacity;
#if defined(CLEARED) || defined(BEHIND) || defined(FLOOR)
uniform vec3 boreEnd; uniform vec3 boreWay; uniform float boreRadius;
#endif
bool clearsHere(out bool beside) {
  beside = false;
#if defined(CLEARED) || defined(BEHIND) || defined(FLOOR)
  vec3 from = vPlace - boreEnd;
  float along = dot(from, boreWay);
  beside = length(from - along * boreWay) > boreRadius;
#ifdef CLEARED
  if (along < 0.0 && !beside) return true;
#endif
#ifdef FLOOR
  if (beside) return true;
#endif
#endif
  return false;
}`;

const LIT = `${CHANNEL}
uniform float edge; uniform float shine; uniform float grip; uniform float ambient; uniform float diffuse;
uniform vec3 tendon; uniform vec3 behind; uniform sampler2D cover; uniform vec4 lights[2];
void main() {
  bool beside;
  if (clearsHere(beside)) discard;
  vec3 n = normalize(vNormal_);
  vec3 own = colour;
#ifdef TENDON
  own = mix(own, tendon, vShare);
#endif
#ifdef TUBE
  n = -n;
#endif
  float lit = 0.0, glint = 0.0;
  for (int i = 0; i < 2; i += 1) {
    vec3 l = normalize(lights[i].xyz);
    float d = max(dot(n, l), 0.0);
    lit += lights[i].w * d;
    if (d > 0.0) glint += lights[i].w * pow(max(reflect(-l, n).z, 0.0), grip);
  }
  vec3 c = own * (ambient + diffuse * lit) + shine * glint;
#ifdef TUBE
  c *= mix(0.95, 0.30, clamp(vPlace.z, 0.0, 1.0));
#endif
  float a = opacity;
  float facing = abs(n.z);
#ifdef EDGED
  float thin = clamp(1.5 * fwidth(facing), 0.0, 1.0);
  c *= mix(edge, 1.0, mix(smoothstep(0.05, 0.50, facing), 0.55, thin));
#endif
#ifdef GLASS
  float pale = 1.0 - smoothstep(0.30, 0.85, facing);
  float rimmed = 1.0 - smoothstep(0.10, 0.36, facing);
  c = mix(c, vec3(1.0, 0.92, 0.89), 0.40 + 0.35 * pale);
  c *= 1.0 - 0.62 * rimmed;
  a = max(a, max(0.62 * pale, 0.92 * rimmed));
#endif
#ifdef COVERED
  c *= texture2D(cover, vTile).rgb;
#endif
#ifdef BEHIND
  if (beside) c = mix(c, behind, 0.5);
#endif
  gl_FragColor = vec4(c, a);
}`;

const FLAT = `${CHANNEL}
void main() {
  bool beside;
  if (clearsHere(beside)) discard;
  gl_FragColor = vec4(colour, opacity);
}`;

// The number of a structure and how far it is, for names and for what a finger points at.
const NUMBER = `${CHANNEL}
uniform float number;
void main() {
  bool beside;
  if (clearsHere(beside)) discard;
  float far = floor(min(gl_FragCoord.z, 0.99998) * 65536.0);
  gl_FragColor = vec4(mod(number, 256.0), floor(number / 256.0), mod(far, 256.0), floor(far / 256.0)) / 255.0;
}`;

const LIGHTS = looks.lights.map((l) => new THREE.Vector4(...l));

function vector(numbers) {
  return new THREE.Vector3(...numbers);
}

function material(fragment, defines, uniforms, more = {}) {
  const marks = Object.fromEntries(Object.entries(defines).filter(([, on]) => on).map(([word]) => [word, 1]));
  const values = Object.fromEntries(Object.entries(uniforms).map(([word, value]) => [word, { value }]));
  return new THREE.ShaderMaterial({
    vertexShader: CORNER, fragmentShader: fragment, defines: marks, uniforms: values, toneMapped: false, ...more,
  });
}

function litUniforms(colour, more = {}) {
  return {
    colour: vector(colour), opacity: 1, edge: theme().edge, shine: 0, grip: 10, ambient: 0.16, diffuse: 0.9,
    tendon: vector(rgb(looks.tendon)), behind: vector(rgb(theme().background)), lights: LIGHTS, ...more,
  };
}

function boreUniforms(portal) {
  if (!portal) return {};
  return { boreEnd: vector(portal.clear), boreWay: vector(portal.way), boreRadius: portal.radius };
}

// Leaves a mark where something that is traced is what is seen: there nothing shines through it.
function seenAs(traced) {
  return { stencilWrite: true, stencilRef: traced ? 1 : 0, stencilZPass: THREE.ReplaceStencilOp };
}

// One structure: itself, its rim, and what shines through where it is covered.
function solidOf(part, portal, covers) {
  const shape = geometry(part.mesh);
  const back = rgb(theme().background);
  const colour = part.dimmed ? between(rgb(part.colour), back, looks.dimmed) : rgb(part.colour);
  const cover = part.fibres ? covers.fibres : part.opened ? covers.spongy : part.banded ? covers.bands : null;
  const inside = { CLEARED: part.cleared, BEHIND: part.behind };
  const bore = part.cleared || part.behind ? boreUniforms(portal) : {};
  const defines = {
    ...inside, EDGED: !part.glassy, GLASS: part.glassy, COVERED: cover && shape.getAttribute("uv"),
    TENDON: shape.getAttribute("share"),
  };
  const uniforms = litUniforms(colour, {
    opacity: part.glassy ? looks.glassy : 1, shine: part.shine, grip: part.grip, cover, ...bore,
  });
  const glass = part.glassy ? { transparent: true, depthWrite: false } : seenAs(part.traced);
  const made = [new THREE.Mesh(shape, material(LIT, defines, uniforms, glass))];
  made[0].userData = { part, glassy: Boolean(part.glassy) };
  const accent = vector(rgb(theme().accent));
  if (part.rim) {
    const rim = material(FLAT, { GROWN: 1 }, { colour: accent, opacity: 1, grown: part.rim }, {
      side: THREE.BackSide, ...seenAs(part.traced),
    });
    made.push(new THREE.Mesh(withSmooth(shape), rim));
  }
  if (part.traced) {
    const pale = material(FLAT, {}, { colour: accent, opacity: looks.shine }, {
      transparent: true, depthWrite: false, depthFunc: THREE.GreaterDepth, stencilWrite: true, stencilRef: 1,
      stencilFunc: THREE.NotEqualStencilFunc,
    });
    made.push(new THREE.Mesh(shape, pale));
    made[made.length - 1].renderOrder = 2000;
  }
  return made;
}

// The same for the picture of numbers; what is see-through hides nothing.
function numberOf(part, portal) {
  const defines = { CLEARED: part.cleared };
  const uniforms = { number: part.is + 1, ...(part.cleared ? boreUniforms(portal) : {}) };
  return new THREE.Mesh(geometry(part.mesh), material(NUMBER, defines, uniforms));
}
