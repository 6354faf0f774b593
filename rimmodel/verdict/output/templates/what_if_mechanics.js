// The mechanics of the WHAT IF part: a rotor in a condition, as straight lines in speed squared and in the pull of the
// field. Same formulas under the same names as in rimmodel (elastic.ring_edges, elastic.teeth, elastic.harmonics,
// elastic.key_compliance, behaviour.contact.coefficients, .state and .speeds): derived there, for single numbers here.
// SI throughout, radial, NaN where the pull has closed the gap. Nothing here knows of the page.
"use strict";

const MAGNETIC_CONSTANT = 4e-7 * Math.PI;
const REFERENCE_TEMPERATURE = 293.15;

// ------------------------------------------------------------------------------------------- elastic: ring and teeth

function log_ratio(r, b) { return -Math.log1p((b - r) / r); }

// (s^(n-1) - s^(k-1)) / (k - n), through its removable singularity at k = n
function difference(s, log_s, k, n) {
  const x = (k - n) * log_s;
  return -(s ** (n - 1)) * log_s * (x === 0 ? 1 : Math.expm1(x) / x);
}

function ring_edges(rim) {
  const a = rim.inner_radius, b = rim.slot_bottom_radius, nu = rim.poisson_ratio, m = rim.hoop_stiffness_factor;
  const k = Math.sqrt(m), t = a / b, log_t = log_ratio(a, b);
  const rise = Math.exp(k * log_t), full = -Math.expm1(2 * k * log_t), lame = k * (2 - full) / full;
  const spin = rim.density * b * b, shape = (3 + nu * m) / (k + 3), relief = shape * difference(t, log_t, k, 3);
  const pull = 2 * k * rise / full;
  const bore_hoop = {
    pressure: lame, traction: pull / t, speed_squared: spin * (relief * (3 + lame) - shape * rise / t + t * t),
  };
  const outer_hoop = { pressure: pull * t, traction: lame, speed_squared: spin * (1 - shape + relief * pull * t) };
  const to_bore = a / (rim.young_modulus * m), to_outer = b / (rim.young_modulus * m);
  return {
    bore_displacement: {
      pressure: to_bore * (lame + nu * m), traction: to_bore * bore_hoop.traction,
      speed_squared: to_bore * bore_hoop.speed_squared,
    },
    outer_displacement: {
      pressure: to_outer * outer_hoop.pressure, traction: to_outer * (lame - nu * m),
      speed_squared: to_outer * outer_hoop.speed_squared,
    },
    bore_hoop_stress: bore_hoop,
  };
}

function teeth(rim) {
  const c = rim.slot_bottom_radius, b = rim.outer_radius, share = rim.tooth_share;
  const cubes = (b - c) * (b * b + b * c + c * c), log = Math.log1p((b - c) / c);
  return {
    traction_per_speed_squared: share * rim.density * cubes / (3 * c),
    stretch_per_traction: c * log / (share * rim.young_modulus),
    stretch_per_speed_squared: rim.density / (3 * rim.young_modulus) * (b ** 3 * log - cubes / 3),
  };
}

function wedging(flank_angle, count, share) { return 1 + Math.PI / count * share / Math.tan(flank_angle); }

// ------------------------------------------------------------- elastic: a ring on single keys scallops between them

function zeta(order) { // Euler-Maclaurin from 16 on
  let total = 0;
  for (let n = 15; n > 0; n--) total += n ** -order;
  const last = 16 ** -order, s = order;
  return total + last * (16 / (s - 1) + 0.5 + s / 192 - s * (s + 1) * (s + 2) / (720 * 4096)
    + s * (s + 1) * (s + 2) * (s + 3) * (s + 4) / (30240 * 16 ** 5));
}
const ZETA = Array.from({ length: 25 }, (_, j) => j ? zeta(2 * j) : NaN), ZETA_3 = zeta(3);

function shear_ratio(rim) {
  const root_m = Math.sqrt(rim.hoop_stiffness_factor);
  return rim.shear_modulus === null ? root_m
    : 0.5 * root_m * (rim.young_modulus / rim.shear_modulus - 2 * rim.poisson_ratio);
}

function alpha_squared(rim) {
  const root_m = Math.sqrt(rim.hoop_stiffness_factor);
  return [0.5 * root_m * (shear_ratio(rim) + 1), 0.25 * (1 - root_m) ** 2];
}

function decayed_hyperbolic(rate, length) {
  return [0.5 * (1 + Math.exp(-2 * rate * length)), -0.5 * Math.expm1(-2 * rate * length)];
}

function decayed_odd(rate_squared, length) {
  if (rate_squared > 0) return decayed_hyperbolic(Math.sqrt(rate_squared), length)[1] / Math.sqrt(rate_squared);
  const turn = Math.sqrt(-rate_squared) * length;
  return turn === 0 ? length : length * Math.sin(turn) / turn;
}

function sine_series(x) {
  let total = 0;
  for (let k = 9; k > 0; k--) total = (1 + total) * x / (2 * k * (2 * k + 1));
  return total;
}

function sum_times_difference(alpha, beta_squared, end) {
  const mu = Math.sqrt(Math.max(beta_squared, 0)), [, sine] = decayed_hyperbolic(alpha, end);
  const other = alpha * decayed_odd(beta_squared, end) * Math.exp((mu - alpha) * end), x = alpha * end;
  if (!(x < 1)) return (sine + other) * (sine - other);
  const y = Math.min(Math.max(beta_squared * end ** 2, -1), 1);
  return (sine + other) * x * Math.exp(-x) * (sine_series(Math.min(x ** 2, 1)) - sine_series(y));
}

// f''' - 2 S f' over sqrt(P) at the bore, where f is 1 and its slope 0: all that the displacement there asks for
function clamped_beam_support(alpha, beta_squared, end) {
  const mu = Math.sqrt(Math.max(beta_squared, 0)), [cosh_end, sinh_end] = decayed_hyperbolic(alpha, end);
  const odd_end = decayed_odd(beta_squared, end), determinant = sum_times_difference(alpha, beta_squared, end);
  const turn = Math.sqrt(Math.max(-beta_squared, 0)) * end;
  const even_end = mu > 0 ? decayed_hyperbolic(mu, end)[0] : Math.cos(turn);
  const first = sinh_end / determinant, second = Math.exp((mu - alpha) * 2 * end) * alpha * odd_end / determinant;
  return 2 * alpha * (first * cosh_end + second * even_end);
}

function bending_part(rim) {
  const a = rim.inner_radius, thickness = Math.log1p((rim.slot_bottom_radius - a) / a);
  return 12 * a / (rim.young_modulus * rim.hoop_stiffness_factor * thickness ** 3);
}

function harmonic_compliance(rim, n) {
  const a = rim.inner_radius, nu = rim.poisson_ratio, root_m = Math.sqrt(rim.hoop_stiffness_factor);
  const thickness = Math.log1p((rim.slot_bottom_radius - a) / a), [square, constant] = alpha_squared(rim);
  const beta_squared = 0.25 * (1 + root_m) ** 2 + 0.5 * root_m * (shear_ratio(rim) - 1) * n ** 2;
  const support = clamped_beam_support(Math.sqrt(square * n ** 2 + constant), beta_squared, thickness), q = n ** 2 - 1;
  const bent = (1 / rim.bending_stiffness_factor - 1) * bending_part(rim);
  return a / rim.young_modulus * ((1 - nu) / q + support / (root_m * q)) + bent / q ** 2;
}

function asymptote(rim) {
  const [square, constant] = alpha_squared(rim), scale = rim.inner_radius / rim.young_modulus;
  const first = 2 * Math.sqrt(square / rim.hoop_stiffness_factor), third = first * (1 + 0.5 * constant / square);
  const bent = (1 / rim.bending_stiffness_factor - 1) * bending_part(rim);
  return [scale * first, scale * (1 - rim.poisson_ratio), scale * third, scale * (1 - rim.poisson_ratio) + bent];
}

function decay_rate(rim) {
  const [square] = alpha_squared(rim), beta_square = square - Math.sqrt(rim.hoop_stiffness_factor);
  const slowest = Math.sqrt(square) - Math.sqrt(Math.max(beta_square, 0));
  return slowest * Math.log(rim.slot_bottom_radius / rim.inner_radius);
}

// sums over n >= 1 of (cos(n x) - 1)/n^k for k = 3, 4, 5, 6
function cosine_sums(angle) {
  let x = angle % (2 * Math.PI);
  if (x < 0) x += 2 * Math.PI;
  x = Math.min(x, 2 * Math.PI - x);
  const square = x ** 2, log = Math.log(x > 0 ? x : 1), ratio = square / (2 * Math.PI) ** 2, pi = Math.PI;
  let third = 0, fifth = 0;
  for (let j = 24; j > 0; j--) {
    const factor = ZETA[j] / (j * (2 * j + 1) * (2 * j + 2));
    third = (third + factor) * ratio;
    fifth = (fifth + factor / ((2 * j + 3) * (2 * j + 4))) * ratio;
  }
  return [
    square * (0.5 * log - 0.75 - third),
    square * (-(pi ** 2) / 12 + x * (pi / 12 - x / 48)),
    square * (-0.5 * ZETA_3 + square * (25 / 288 - log / 24 + fifth)),
    square * (-(pi ** 4) / 180 + square * (pi ** 2 / 144 + x * (-pi / 240 + x / 1440))),
  ];
}

// mean of cos(n x) over each pair of panels of a key, for the angle that its width takes times n
function panel_transforms(edges, angle) {
  return edges.slice(1).map((outer, j) => {
    const y = (outer - edges[j]) * angle / 2;
    return Math.cos((outer + edges[j]) / 2 * angle) * (y === 0 ? 1 : Math.sin(y) / y);
  });
}

// sum over n of (A_1/n + ...) times the transforms of two pairs of panels
function limit_panels(limit, patch, edges) {
  const place = edges.map(edge => patch * edge);
  const products = place.map(x => place.map(y => {
    const apart = cosine_sums(x - y), sum = cosine_sums(x + y);
    return limit.reduce((total, A, k) => total + A / 2 * (apart[k] - sum[k]), 0);
  }));
  return edges.slice(1).map((_, j) => edges.slice(1).map((_, k) =>
    (products[j + 1][k + 1] - products[j + 1][k] - products[j][k + 1] + products[j][k])
      / ((place[j + 1] - place[j]) * (place[k + 1] - place[k]))));
}

function scalloped_panels(rim, count, width, edges) {
  const patch = width / rim.inner_radius, limit = asymptote(rim);
  const terms = Math.max(400, Math.ceil(20 / decay_rate(rim)));
  const panels = limit_panels(limit.map((A, k) => A / count ** (k + 1)), patch * count, edges);
  for (let order = 1; order <= Math.ceil(terms / count); order++) {
    const n = order * count, waves = panel_transforms(edges, n * patch);
    const tends_to = (((limit[3] / n + limit[2]) / n + limit[1]) / n + limit[0]) / n;
    const difference = harmonic_compliance(rim, n) - tends_to;
    for (const [j, row] of panels.entries()) for (const k of row.keys()) row[k] += difference * waves[j] * waves[k];
  }
  return panels.map(row => row.map(value => 2 * value));
}

function solved(matrix, right) { // by Gauss, of a definite matrix
  const rows = matrix.map((row, j) => [...row, right[j]]), count = rows.length;
  for (let j = 0; j < count; j++) for (let i = j + 1; i < count; i++) {
    const factor = rows[i][j] / rows[j][j];
    for (let k = j; k <= count; k++) rows[i][k] -= factor * rows[j][k];
  }
  for (let j = count - 1; j >= 0; j--) {
    for (let k = j + 1; k < count; k++) rows[j][count] -= rows[j][k] * rows[k][count];
    rows[j][count] /= rows[j][j];
  }
  return rows.map(row => row[count]);
}

// shares of the force of a key on its panels under which those that stay in touch yield alike
function conforming(panels) {
  const scale = Math.max(...panels.flat().map(Math.abs)) || 1, yields = panels.map(row => row.map(v => v / scale + 1));
  const touching = panels.map(() => true);
  let share = [];
  for (let pass = 0; pass < 4 * panels.length; pass++) {
    const system = yields.map((row, j) => row.map((v, k) => touching[j] && touching[k] ? v : Number(j === k)));
    share = solved(system, touching.map(Number));
    let change = share.map(value => value < 0);
    if (!change.includes(true)) {
      change = yields.map((row, j) => !touching[j] && row.reduce((sum, v, k) => sum + v * share[k], 0) < 1 - 1e-9);
    }
    if (!change.includes(true)) break;
    change.forEach((changes, j) => { if (changes) touching[j] = !touching[j]; });
  }
  share = share.map(value => Math.max(value, 0));
  const whole = share.reduce((sum, value) => sum + value, 0);
  return share.map(value => value / whole);
}

function key_compliance(machine) {
  const { key_count: count, key_width: width, key_edges: edges, key_panels: support } = machine.fit;
  if (count === null || width === null) return 0;
  const rim = scalloped_panels(machine.rim, count, width, edges);
  const panels = rim.map((row, j) => row.map((value, k) => value + support[j][k])), share = conforming(panels);
  return panels.reduce((sum, row, j) => sum + share[j] * row.reduce((part, v, k) => part + v * share[k], 0), 0);
}

// ------------------------------------------------------------------------------ behaviour.contact.coefficients: lines

function stator_pull_in(machine) {
  const gap = machine.air_gap, rim = machine.rim, poles = machine.poles;
  if (gap.stator_core_depth === null || gap.stator_core_modulus === null) return 0;
  const at_face = rim.slot_bottom_radius / poles.face_radius * (rim.length / poles.face_length);
  return at_face * (poles.face_radius + gap.cold) ** 2 / (gap.stator_core_modulus * gap.stator_core_depth);
}

function warm_growth(machine, condition) {
  const expansion = machine.rim.thermal_expansion, stator = machine.air_gap.stator_thermal_expansion;
  const stator_alpha = stator === null ? expansion : stator;
  const rim_rise = condition.rim_temperature - REFERENCE_TEMPERATURE;
  const pole_rise = condition.pole_temperature === null ? rim_rise : condition.pole_temperature - REFERENCE_TEMPERATURE;
  const b = machine.rim.outer_radius, face = machine.poles.face_radius;
  return expansion * (b * rim_rise + (face - b) * pole_rise)
    - stator_alpha * (face + machine.air_gap.cold) * (condition.stator_temperature - REFERENCE_TEMPERATURE);
}

function loads(machine, condition) {
  const rim = machine.rim, poles = machine.poles, a = rim.inner_radius, b = rim.slot_bottom_radius;
  const of_teeth = teeth(rim), stiffness = poles.radial_stiffness === null ? Infinity : poles.radial_stiffness;
  let traction = poles.count * poles.mass * poles.mass_radius / (2 * Math.PI * b * rim.length);
  if (rim.slot_depth > 0) traction *= wedging(rim.slot_flank_angle, poles.count, rim.tooth_share);
  const rim_rise = condition.rim_temperature - REFERENCE_TEMPERATURE;
  const spider_rise = condition.spider_temperature - REFERENCE_TEMPERATURE;
  return {
    traction: traction + of_teeth.traction_per_speed_squared,
    tooth_stretch_per_traction: of_teeth.stretch_per_traction,
    tooth_stretch_per_speed_squared:
      of_teeth.stretch_per_speed_squared - of_teeth.stretch_per_traction * of_teeth.traction_per_speed_squared,
    pole_stretch: poles.mass * poles.mass_radius / stiffness,
    stretch_per_traction: 2 * Math.PI * b * rim.length / (poles.count * stiffness) + stator_pull_in(machine),
    warm_loss: a * (rim.thermal_expansion * rim_rise - machine.spider.thermal_expansion * spider_rise),
    warm_growth: warm_growth(machine, condition),
    pull: condition.flux_density ** 2 / (4 * MAGNETIC_CONSTANT)
      * (poles.face_radius / b) * (poles.face_length / rim.length),
  };
}

function coefficients(machine, condition) {
  const rim = machine.rim, fit = machine.fit, spider = machine.spider, borne = loads(machine, condition);
  const edges = ring_edges(rim), bore = edges.bore_displacement, ring_outer = edges.outer_displacement;
  const outer = edges.outer_displacement = {
    pressure: ring_outer.pressure,
    traction: ring_outer.traction + borne.tooth_stretch_per_traction,
    speed_squared: ring_outer.speed_squared + borne.tooth_stretch_per_speed_squared,
  };
  const net_growth = bore.speed_squared + bore.traction * borne.traction - spider.growth_per_speed_squared;
  const compliance = bore.pressure + key_compliance(machine) + spider.compliance;
  const at_rest = fit.interference - fit.settlement - fit.stack_growth - borne.warm_loss;
  const assembled = outer.pressure * Math.max(fit.interference, 0) / compliance;
  const floating = {
    at_rest: machine.air_gap.cold + assembled - borne.warm_growth
      - fit.stack_growth * rim.inner_radius / rim.slot_bottom_radius,
    per_speed_squared: outer.speed_squared + outer.traction * borne.traction + borne.pole_stretch,
    per_traction: outer.traction + borne.stretch_per_traction,
  };
  const held = outer.pressure / compliance; // growth of the outside per interference left
  const seated = {
    at_rest: floating.at_rest - held * at_rest,
    per_speed_squared: floating.per_speed_squared - held * net_growth,
    per_traction: floating.per_traction - held * bore.traction,
  };
  return {
    at_rest, net_growth, bore_per_traction: bore.traction, compliance, seated, floating, edges,
    pole_traction: borne.traction, cold_pull: borne.pull, pull_constant: borne.pull * machine.air_gap.cold ** 2,
    constant_current: condition.excitation === "constant current", warm_loss: borne.warm_loss,
  };
}

function interference_at(model, speed_squared, pull) {
  return model.at_rest - model.net_growth * speed_squared - model.bore_per_traction * pull;
}

// ---------------------------------------------------------------------------- behaviour.contact.state: seated, floating

function pulled_gap(unpulled, softening, inner_root) {
  if (softening === 0) return unpulled;
  if (!(unpulled > 0)) return NaN;
  const angle = 1 - 13.5 * softening / unpulled ** 3;
  if (!(angle >= -1)) return NaN;
  const share = angle > 1 ? Math.cosh(Math.acosh(angle) / 3)
    : Math.cos((Math.acos(angle) - (inner_root ? 2 * Math.PI : 0)) / 3);
  return unpulled * (1 + 2 * share) / 3;
}

function solve_gap(line, model, speed_squared, inner_root = false) {
  const unpulled = line.at_rest - line.per_speed_squared * speed_squared;
  if (model.cold_pull === 0) return [unpulled, 0];
  if (!model.constant_current) return [unpulled - line.per_traction * model.cold_pull, model.cold_pull];
  const gap = pulled_gap(unpulled, line.per_traction * model.pull_constant, inner_root);
  return [gap, model.pull_constant / gap ** 2];
}

function contact(model, speed_squared) {
  let [gap, pull] = solve_gap(model.seated, model, speed_squared);
  const shut = Number.isNaN(gap);
  if (!(interference_at(model, speed_squared, pull) >= 0)) [gap, pull] = solve_gap(model.floating, model, speed_squared);
  let left = interference_at(model, speed_squared, pull);
  // a floating root with interference left belongs to no state: the seated rim was pulled shut before
  if (shut && left > 0) gap = pull = left = NaN;
  return { air_gap: gap, pull, residual_interference: left, contact_pressure: Math.max(left, 0) / model.compliance };
}

function speed_squared_of(line, model, at_rest, per_speed_squared, per_traction) {
  const gap_per_load = line.per_speed_squared / per_speed_squared;
  const at_zero = {
    at_rest: line.at_rest - gap_per_load * at_rest, per_speed_squared: 0,
    per_traction: line.per_traction - gap_per_load * per_traction,
  };
  const [gap, pull] = solve_gap(at_zero, model, 0, per_speed_squared < 0);
  if (model.constant_current && 2 * line.per_traction * pull > gap && pull > 0) return NaN;
  return (at_rest - per_traction * pull) / per_speed_squared;
}

// ------------------------------------------------------------------------------ behaviour.contact.speeds and quantities

// Infinity where the rim never floats by speed, 0 where it floats at standstill, NaN where the pull closes the gap before
function float_speed_of(model, highest) {
  const standing = contact(model, 0).residual_interference;
  if (Number.isNaN(standing)) return NaN;
  if (!(standing > 0)) return 0;
  const squared = speed_squared_of(model.seated, model, model.at_rest, model.net_growth, model.bore_per_traction);
  if (model.net_growth > 0 || squared > 0) return Number.isNaN(squared) ? NaN : Math.sqrt(Math.max(squared, 0));
  return Number.isNaN(solve_gap(model.seated, model, highest ** 2)[0]) ? NaN : Infinity;
}

function rim_response(edge, model, state, speed_squared) {
  return edge.pressure * state.contact_pressure
    + edge.traction * (model.pole_traction * speed_squared + state.pull) + edge.speed_squared * speed_squared;
}

function quantity_values(machine, condition, speed) {
  const model = coefficients(machine, condition), x = speed ** 2, state = contact(model, x), edges = model.edges;
  const spider = machine.spider, standing = contact(model, 0);
  return {
    float_speed: float_speed_of(model, machine.highest_speed),
    gap: state.air_gap,
    residual_interference: state.residual_interference,
    contact_pressure: state.contact_pressure,
    rim_stress: rim_response(edges.bore_hoop_stress, model, state, x) / machine.rim.net_factor,
    spider_stress: spider.hoop_per_speed_squared === null ? NaN
      : spider.hoop_per_speed_squared * x + spider.hoop_per_pressure * state.contact_pressure,
    rim_growth: rim_response(edges.outer_displacement, model, state, x)
      - rim_response(edges.outer_displacement, model, standing, 0),
  };
}

// What is left of the interference at standstill, 20 degC, without field.
function interference_left(machine) {
  return machine.fit.interference - machine.fit.settlement - machine.fit.stack_growth;
}

// A drawn rotor is assembled with another interference, and its cold gap stays that of the drawing. A measured rotor
// is shimmed as it stands: the gap of its floating rim stays, that of the seated rim follows.
function with_interference_left(machine, left) {
  const fit = { ...machine.fit };
  if (machine.measured) fit.settlement = fit.interference - fit.stack_growth - left;
  else fit.interference = left + fit.settlement + fit.stack_growth;
  return { ...machine, fit };
}

// The interference left, as above, with which the rim lifts off at exactly that speed.
function needed_interference_left(machine, condition, speed) {
  const x = speed ** 2;
  if (machine.measured) {
    const model = coefficients(machine, condition);
    const pull = solve_gap(model.floating, model, x)[1];
    return model.net_growth * x + model.bore_per_traction * pull + model.warm_loss;
  }
  const fit = { ...machine.fit, interference: 0 }, model = coefficients({ ...machine, fit }, condition);
  const losses = model.net_growth * x - model.at_rest, floating = model.floating;
  const needed = held => losses + model.bore_per_traction * solve_gap({
    at_rest: floating.at_rest + held * losses, per_speed_squared: floating.per_speed_squared,
    per_traction: floating.per_traction - held * model.bore_per_traction,
  }, model, x)[1];
  const tight = needed(model.edges.outer_displacement.pressure / model.compliance);
  return (tight < 0 ? needed(0) : tight) - machine.fit.settlement - machine.fit.stack_growth;
}
