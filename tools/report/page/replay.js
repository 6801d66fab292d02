// The replay's controls. It starts still: what it shows flashes.
async function startReplay(root) {
  const data = JSON.parse(document.getElementById("replay-data").textContent);
  const find = (name) => root.querySelector(`[data-part="${name}"]`);
  const canvas = find("canvas"), play = find("play"), scrub = find("scrub"), clock = find("clock");
  const speed = find("speed"), fits = find("fits"), exposure = find("exposure"), warning = find("warning");
  const consent = find("consent"), shutter = find("shutter"), status = find("status"), save = find("save");
  const flight = await unpackFlight(data);
  const view = makeView(data, canvas);
  const scene = makeScene(data, flight, canvas, view);
  const less = matchMedia("(prefers-reduced-motion: reduce)");
  let time = 0, playing = false, before = 0, asked = false, gathered = false;

  const choice = () => (fits.value === "carried" ? "carried" : Number(fits.value));
  const seconds = () => time * data.interval;
  const rate = () => data.flashes[fits.value] * Number(speed.value);

  function draw() {
    asked = false;
    const lit = scene.draw(time, choice(), Number(exposure.value));
    gathered = false;
    const of = `${lit} of ${flight.tags} lit`;
    if (status.textContent !== of) status.textContent = of;
    clock.textContent = `${seconds().toFixed(2)} s`;
    scrub.value = String(Math.round(time));
    scrub.setAttribute("aria-valuetext", `${seconds().toFixed(1)} seconds, ${of}`);
    root.dataset.frames = String(Number(root.dataset.frames ?? 0) + 1);
  }

  function ask() {
    if (!asked && !playing) requestAnimationFrame(draw);
    asked = true;
  }

  function warn() {
    const perSecond = rate();
    warning.textContent = perSecond > 3
      ? `At this speed a tag flashes about ${perSecond.toFixed(1)} times a second: more than three can trigger seizures.`
      : `At this speed a tag flashes about ${perSecond.toFixed(1)} times a second.`;
    warning.classList.toggle("hot", perSecond > 3);
  }

  function tick(now) {
    if (!playing) return;
    time += ((now - before) / 1000 / data.interval) * Number(speed.value);
    before = now;
    if (time >= flight.frames - 1) {
      time = flight.frames - 1;
      stop();
    }
    draw();
    if (playing) requestAnimationFrame(tick);
  }

  function stop() {
    playing = false;
    play.textContent = "Play";
  }

  function toggle() {
    if (play.disabled) return;
    if (playing) return stop();
    if (time >= flight.frames - 1) time = 0;
    playing = true;
    play.textContent = "Pause";
    before = performance.now();
    requestAnimationFrame(tick);
  }

  function allow() {
    consent.hidden = !less.matches;
    play.disabled = less.matches && !consent.querySelector("input").checked;
    if (play.disabled) stop();
  }

  // The fastest that keeps a tag's flashes to three a second, real time at most.
  function gentle() {
    const most = Math.max(...Object.values(data.flashes));
    const fitting = [...speed.options].map((o) => Number(o.value)).filter((s) => s <= 1 && s * most <= 3);
    speed.value = String(fitting.length ? Math.max(...fitting) : Math.min(...[...speed.options].map((o) => Number(o.value))));
  }

  function resize() {
    const wide = canvas.clientWidth, high = canvas.clientHeight, ratio = Math.min(2, devicePixelRatio);
    // Not laid out, in a tab behind others: it is called again when it is.
    if (wide === 0 || high === 0) return;
    canvas.width = Math.round(wide * ratio);
    canvas.height = Math.round(high * ratio);
    ask();
  }

  play.addEventListener("click", toggle);
  scrub.addEventListener("input", () => {
    stop();
    time = Number(scrub.value);
    ask();
  });
  speed.addEventListener("change", warn);
  fits.addEventListener("change", () => {
    warn();
    ask();
  });
  exposure.addEventListener("input", ask);
  consent.querySelector("input").addEventListener("change", allow);
  less.addEventListener("change", allow);
  find("home").addEventListener("click", () => {
    view.reset();
    ask();
  });

  find("gather").addEventListener("click", () => {
    stop();
    const frames = Number(shutter.value) / data.interval;
    const from = Math.max(0, Math.min(time, flight.frames - 1 - frames));
    scene.longExposure(from, Math.min(flight.frames - 1, from + frames), choice(), Number(exposure.value));
    gathered = true;
    status.textContent = `Shutter open for ${(frames * data.interval).toFixed(1)} s from ${(from * data.interval).toFixed(1)} s on`;
  });
  save.addEventListener("click", () => {
    canvas.toBlob((blob) => {
      const link = document.createElement("a");
      link.href = URL.createObjectURL(blob);
      link.download = `${data.file}-${gathered ? "long-exposure" : "picture"}.png`;
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    });
  });

  const turn = (azimuth, elevation) => {
    view.azimuth += azimuth;
    view.elevation = Math.min(1.5, Math.max(-0.4, view.elevation + elevation));
    ask();
  };
  const zoom = (factor) => {
    view.distance = Math.min(3, Math.max(0.35, view.distance * factor));
    ask();
  };
  canvas.addEventListener("keydown", (event) => {
    const actions = {
      ArrowLeft: () => turn(0.1, 0),
      ArrowRight: () => turn(-0.1, 0),
      ArrowUp: () => turn(0, 0.08),
      ArrowDown: () => turn(0, -0.08),
      "+": () => zoom(0.9),
      "-": () => zoom(1.1),
      Home: () => {
        view.reset();
        ask();
      },
      " ": toggle,
    };
    if (!actions[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    actions[event.key]();
  });
  let held = null;
  canvas.addEventListener("pointerdown", (event) => {
    held = [event.clientX, event.clientY];
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!held) return;
    turn((held[0] - event.clientX) * 0.008, (event.clientY - held[1]) * 0.006);
    held = [event.clientX, event.clientY];
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (held = null));
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.08 : 0.93);
  }, { passive: false });

  gentle();
  allow();
  warn();
  new ResizeObserver(resize).observe(canvas);
  root.hidden = false;
  resize();
}
