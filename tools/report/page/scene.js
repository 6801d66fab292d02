// Draws vessel, coils, metal and tags. Light adds up in linear terms: a spot of light I and colour rgb shows as
// 1 - exp(-I rgb) of full brightness, so that bright cores turn pale as they do for a camera or an eye.
function makeScene(data, flight, canvas, view) {
  const paint = canvas.getContext("2d", { alpha: false });
  const encode = (linear) => 255 * (linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055);
  const { radius, topRadius, height } = data.vessel;
  const ring = (z, r = radius) => circle3([0, 0, z], [0, 0, 1], r, 72);
  const solids = [];
  const add = (points, style, width) => solids.push({ points, style, width });
  add(ring(0), "glass", 1.4);
  add(ring(height, topRadius), "glass", 1.4);
  for (let i = -4; i <= 4; ++i) {
    const a = (radius * i) / 5, b = Math.sqrt(radius * radius - a * a);
    add([[a, -b, 0], [a, 0, 0], [a, b, 0]], "mesh", 0.6);
    add([[-b, a, 0], [0, a, 0], [b, a, 0]], "mesh", 0.6);
  }
  for (const coil of data.coils) {
    for (const [offset, r] of coil.turns) {
      const centre = coil.centre.map((c, k) => c + offset * coil.axis[k]);
      add(circle3(centre, coil.axis, r, 64), "copper", 1.2);
    }
  }
  for (const part of data.metal) {
    add(ring(part.low, part.radius), "metal", 2);
    add(ring(part.high, part.radius), "metal", 2);
    for (let i = 0; i < part.rods; ++i) {
      const angle = (2 * Math.PI * i) / part.rods, x = part.radius * Math.cos(angle), y = part.radius * Math.sin(angle);
      add([[x, y, part.low], [x, y, part.high]], "metal", 2);
    }
  }
  const inks = {
    glass: ["rgba(150,175,190,0.25)", "rgba(190,215,230,0.55)"],
    mesh: ["rgba(120,140,150,0.16)", "rgba(120,140,150,0.16)"],
    copper: ["rgba(150,92,58,0.28)", "rgba(226,146,98,0.6)"],
    metal: ["rgba(140,144,150,0.45)", "rgba(190,194,200,0.85)"],
    hull: ["rgba(150,175,190,0.4)", "rgba(150,175,190,0.4)"],
  };

  // An LED's picture, by design, fit and brightness in half octaves.
  const sprites = new Map();
  const half = 48;
  function sprite(design, fit, led, step) {
    const key = (2 * (design * 16 + fit) + led) * 256 + step + 64;
    let found = sprites.get(key);
    if (found) return found;
    found = document.createElement("canvas");
    found.width = found.height = 2 * half;
    const brush = found.getContext("2d");
    const image = brush.createImageData(2 * half, 2 * half);
    const intensity = 2 ** (step / 2);
    const rgb = data.designs[design].fits[fit].leds[led].rgb;
    for (let y = 0; y < 2 * half; ++y) {
      for (let x = 0; x < 2 * half; ++x) {
        const d = Math.hypot(x + 0.5 - half, y + 0.5 - half) / half;
        // A sharp core and the wide, faint halo of clear plastic and the eye; nil at the rim.
        const edge = Math.max(0, 1 - d * d);
        const profile = edge * edge * (Math.exp(-((d / 0.085) ** 2)) + 0.05 * Math.exp(-((d / 0.34) ** 2)));
        const at = 4 * (y * 2 * half + x);
        for (let c = 0; c < 3; ++c) image.data[at + c] = encode(1 - Math.exp(-intensity * rgb[c] * profile));
        image.data[at + 3] = 255;
      }
    }
    brush.putImageData(image, 0, 0);
    sprites.set(key, found);
    return found;
  }

  function stroke(points, style, width, pixel) {
    const [behind, before] = inks[style];
    const middle = view.middleDepth();
    const shown = points.map((p) => view.project(...p));
    const paths = [new Path2D(), new Path2D()];
    let last = -1;
    shown.forEach((p, i) => {
      const side = p.z < middle ? 1 : 0;
      if (i > 0 && side !== last) paths[last].lineTo(p.x, p.y);
      if (side === last) paths[side].lineTo(p.x, p.y);
      else paths[side].moveTo(p.x, p.y);
      last = side;
    });
    paint.lineWidth = width * pixel;
    paint.strokeStyle = behind;
    paint.stroke(paths[0]);
    paint.strokeStyle = before;
    paint.stroke(paths[1]);
  }

  let still, stillKey;
  // Vessel and coils change with the view alone: drawn once a view.
  function background(pixel) {
    const key = [view.azimuth, view.elevation, view.distance, canvas.width, canvas.height].join();
    if (key === stillKey) return;
    stillKey = key;
    still ??= document.createElement("canvas");
    still.width = canvas.width;
    still.height = canvas.height;
    const sky = paint.createLinearGradient(0, 0, 0, canvas.height);
    sky.addColorStop(0, "#05070b");
    sky.addColorStop(0.6, "#0a0f15");
    sky.addColorStop(1, "#10151b");
    paint.globalCompositeOperation = "source-over";
    paint.fillStyle = sky;
    paint.fillRect(0, 0, canvas.width, canvas.height);
    for (const solid of solids) stroke(solid.points, solid.style, solid.width, pixel);
    // The vessel's left and right edges as seen from here.
    for (const side of [-1, 1]) {
      const x = side * Math.cos(view.azimuth), y = side * Math.sin(view.azimuth);
      stroke([[x * radius, y * radius, 0], [x * topRadius, y * topRadius, height]], "hull", 1, pixel);
    }
    still.getContext("2d").drawImage(canvas, 0, 0);
  }

  // Place, axis and light of each LED [octaves above lit] of a tag at a time in frames.
  function pose(tag, time, fit) {
    const i = Math.min(Math.floor(time), flight.frames - 1), next = Math.min(i + 1, flight.frames - 1), t = time - i;
    const mix = (channel) => channel[i] + t * (channel[next] - channel[i]);
    const k = 3 * tag;
    // Recorded light is the mean since the picture before.
    const light = flight.light[tag][fit].map((channel) => channel[t > 0 ? next : i]);
    return {
      p: [mix(flight.place[k]), mix(flight.place[k + 1]), mix(flight.place[k + 2])],
      n: [mix(flight.axis[k]), mix(flight.axis[k + 1]), mix(flight.axis[k + 2])],
      light,
    };
  }

  const fitOf = (tag, choice) => (choice === "carried" ? data.carried[tag] : Math.min(choice, data.designs[data.tags[tag]].fits.length - 1));

  // Shown brightness in octaves: one more for each octave of light; the brightest fit's typical light is 2^2.
  const shownOctaves = (led, octaves, exposure) => octaves + led.octaves + exposure;

  function draw(time, choice, exposure) {
    const pixel = canvas.width / Math.max(1, canvas.clientWidth);
    view.begin();
    background(pixel);
    paint.globalCompositeOperation = "source-over";
    paint.drawImage(still, 0, 0);
    const seen = [];
    let lit = 0;
    for (let tag = 0; tag < flight.tags; ++tag) {
      const fit = fitOf(tag, choice);
      const at = pose(tag, time, fit);
      if (at.light.reduce((sum, octaves) => sum + 2 ** octaves, 0) >= 1) ++lit;
      seen.push({ tag, fit, ...at, on: view.project(...at.p) });
    }
    seen.sort((a, b) => b.on.z - a.on.z);
    for (const { tag, n, p, on } of seen) {
      const design = data.designs[data.tags[tag]];
      paint.strokeStyle = "rgba(160,185,200,0.16)";
      paint.lineWidth = 0.8 * pixel;
      paint.beginPath();
      paint.arc(on.x, on.y, design.radius * on.scale, 0, 2 * Math.PI);
      paint.stroke();
      const coil = circle3(p, n, design.coil || 0.8 * design.radius, 18);
      paint.strokeStyle = "rgba(205,160,120,0.55)";
      paint.lineWidth = 1.1 * pixel;
      paint.beginPath();
      for (const point of coil) {
        const q = view.project(...point);
        paint.lineTo(q.x, q.y);
      }
      paint.stroke();
    }
    paint.globalCompositeOperation = "lighter";
    for (const { tag, fit, light, on } of seen) {
      const design = data.tags[tag], size = 4.2 * data.designs[design].radius * on.scale;
      data.designs[design].fits[fit].leds.forEach((led, k) => {
        const step = Math.round(2 * shownOctaves(led, light[k], exposure));
        if (step < -8) return;
        paint.drawImage(sprite(design, fit, k, Math.min(step, 24)), on.x - size, on.y - size, 2 * size, 2 * size);
      });
    }
    return lit;
  }

  // Light gathered from one time to another, as a camera with its shutter open would: sums of linear light, a soft
  // spot a hundredth of a vessel's height wide, toned once at the end.
  function longExposure(from, to, choice, exposure) {
    view.begin();
    const pixel = canvas.width / Math.max(1, canvas.clientWidth);
    background(pixel);
    const { width, height: tall } = canvas;
    const sum = new Float32Array(3 * width * tall);
    for (let tag = 0; tag < flight.tags; ++tag) {
      const fit = fitOf(tag, choice), leds = data.designs[data.tags[tag]].fits[fit].leds;
      for (let frame = Math.ceil(from) + 1; frame <= to; ++frame) {
        const rgb = [0, 0, 0];
        flight.light[tag][fit].forEach((channel, k) => {
          const amount = 2 ** shownOctaves(leds[k], channel[frame], exposure);
          for (let c = 0; c < 3; ++c) rgb[c] += amount * leds[k].rgb[c];
        });
        if (rgb.every((part) => part === 0)) continue;
        const a = view.project(...pose(tag, frame - 1, fit).p), b = view.project(...pose(tag, frame, fit).p);
        const spread = Math.max(0.8, 0.0022 * height * b.scale), reach = Math.ceil(2.5 * spread);
        const steps = Math.max(1, Math.ceil(Math.hypot(b.x - a.x, b.y - a.y) / (0.7 * spread)));
        for (let s = 0; s < steps; ++s) {
          const px = a.x + ((b.x - a.x) * (s + 0.5)) / steps, py = a.y + ((b.y - a.y) * (s + 0.5)) / steps;
          const x0 = Math.round(px), y0 = Math.round(py);
          for (let y = Math.max(0, y0 - reach); y <= Math.min(tall - 1, y0 + reach); ++y) {
            for (let x = Math.max(0, x0 - reach); x <= Math.min(width - 1, x0 + reach); ++x) {
              const share = Math.exp(-((x - px) ** 2 + (y - py) ** 2) / (spread * spread)) / steps;
              const k = 3 * (y * width + x);
              sum[k] += share * rgb[0];
              sum[k + 1] += share * rgb[1];
              sum[k + 2] += share * rgb[2];
            }
          }
        }
      }
    }
    const image = still.getContext("2d").getImageData(0, 0, width, tall);
    for (let i = 0, k = 0; k < sum.length; i += 4, k += 3) {
      for (let c = 0; c < 3; ++c) image.data[i + c] = Math.min(255, image.data[i + c] + encode(1 - Math.exp(-sum[k + c])));
    }
    paint.putImageData(image, 0, 0);
  }

  return { draw, longExposure };
}
