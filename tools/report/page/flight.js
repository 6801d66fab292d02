// The recorded flight: channels as tools/report/replay_data.hpp packs them.
async function unpackFlight(data) {
  const bytes = Uint8Array.from(atob(data.packed), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  const raw = new Uint8Array(await new Response(stream).arrayBuffer());
  const frames = data.frames, tags = data.tags.length;
  let at = 0;
  function difference() {
    let value = 0, shift = 1, byte;
    do {
      byte = raw[at++];
      value += (byte & 127) * shift;
      shift *= 128;
    } while (byte > 127);
    return value % 2 ? -(value + 1) / 2 : value / 2;
  }
  function channel(order, scale) {
    const out = new Float32Array(frames);
    let value = 0, slope = 0;
    for (let i = 0; i < frames; ++i) {
      if (order === 2) slope += difference();
      else slope = difference();
      value += slope;
      out[i] = value * scale;
    }
    return out;
  }
  const place = [], axis = [], light = [];
  for (let i = 0; i < 3 * tags; ++i) place.push(channel(2, data.placeStep));
  for (let i = 0; i < 3 * tags; ++i) axis.push(channel(1, 1 / data.axisScale));
  // Of each LED of each fit, octaves above the light that counts as lit; dark: -Infinity.
  const octaves = (code) => (code > 0 ? (code - data.lightZero) / data.lightPerOctave : -Infinity);
  for (const tag of data.tags) light.push(data.designs[tag].fits.map((fit) => fit.leds.map(() => channel(1, 1).map(octaves))));
  return { frames, tags, place, axis, light };
}
