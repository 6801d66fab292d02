// A camera that circles the vessel's middle: azimuth and elevation [rad], distance in vessel heights.
function makeView(data, canvas) {
  const size = Math.hypot(data.vessel.height, 2 * data.reach);
  const view = { azimuth: 0.6, elevation: 0.22, distance: 1 };
  let sinA, cosA, sinE, cosE, focal, far, centreX, centreY;
  view.reset = () => Object.assign(view, { azimuth: 0.6, elevation: 0.22, distance: 1 });
  view.begin = () => {
    sinA = Math.sin(view.azimuth);
    cosA = Math.cos(view.azimuth);
    sinE = Math.sin(view.elevation);
    cosE = Math.cos(view.elevation);
    far = 2.6 * size * view.distance;
    const narrow = Math.min(canvas.height, canvas.width / Math.max(1, (2 * data.reach * 1.15) / data.vessel.height));
    focal = (narrow * 2.6 * size) / (1.22 * Math.max(data.vessel.height * 1.1, size * 0.86));
    centreX = canvas.width / 2;
    centreY = canvas.height / 2;
  };
  // To pixels; z: depth, larger is farther; scale: pixels a metre there.
  view.project = (x, y, z) => {
    const up = z - data.vessel.height / 2;
    const across = x * cosA + y * sinA, away = -x * sinA + y * cosA;
    const depth = far + away * cosE - up * sinE;
    const scale = focal / depth;
    return { x: centreX + across * scale, y: centreY - (up * cosE + away * sinE) * scale, z: depth, scale };
  };
  view.middleDepth = () => far;
  return view;
}

// Points of a circle about an axis.
function circle3(centre, axis, radius, points) {
  const [nx, ny, nz] = axis;
  const helper = Math.abs(nz) < 0.9 ? [0, 0, 1] : [1, 0, 0];
  let ex = ny * helper[2] - nz * helper[1], ey = nz * helper[0] - nx * helper[2], ez = nx * helper[1] - ny * helper[0];
  const length = Math.hypot(ex, ey, ez);
  ex /= length;
  ey /= length;
  ez /= length;
  const fx = ny * ez - nz * ey, fy = nz * ex - nx * ez, fz = nx * ey - ny * ex;
  const out = [];
  for (let i = 0; i <= points; ++i) {
    const c = radius * Math.cos((2 * Math.PI * i) / points), s = radius * Math.sin((2 * Math.PI * i) / points);
    out.push([centre[0] + c * ex + s * fx, centre[1] + c * ey + s * fy, centre[2] + c * ez + s * fz]);
  }
  return out;
}
