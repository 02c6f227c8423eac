
// drawOutline draws a recording from its states and its envelope, as the figures of
// the chosen recordings are drawn, and returns the drawing, its tracks for the player,
// and the ends of its time axis.
const drawOutline = (recording, data) => {
  const left = 96, right = 716, length = recording.to - recording.from;
  const names = ['none', 'S1', 'systole', 'S2', 'diastole'];
  const x = (ms) => left + (right - left) * ms / 1000 / length;
  const make = (name, attributes, text) => {
    const element = document.createElementNS('http://www.w3.org/2000/svg', name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };
  // Two bytes a boundary: milliseconds in the upper 13 bits, what begins in the lower 3.
  const boundaries = (text) => {
    const bytes = atob(text), list = [];
    for (let i = 0; i + 1 < bytes.length; i += 2) {
      const word = bytes.charCodeAt(i) | bytes.charCodeAt(i + 1) << 8;
      list.push({ ms: word >> 3, code: word & 7 });
    }
    return list;
  };
  const tracks = recording.states.map((text, k) => {
    const track = { name: data.tracks[k], spans: [], points: [], unknown: [] };
    const list = boundaries(text);
    list.forEach((b, i) => {
      if (b.code === 5 || b.code === 7) { track.points.push({ ms: b.ms, sound: b.code - 4 }); return; }
      const next = list.slice(i + 1).find((c) => c.code !== 5 && c.code !== 7);
      const end = next ? next.ms : 1000 * length;
      if (b.code === 6) track.unknown.push([b.ms, end]);
      else if (b.code > 0) track.spans.push({ from: b.ms, to: end, state: b.code });
    });
    return track;
  });

  const trace = recording.trace ? [...atob(recording.trace)].map((c) => c.charCodeAt(0) / 255) : [];
  const strips = tracks.map((t) => ({ name: t.name, height: 24, track: t }));
  if (trace.length > 0) strips.unshift({ name: 'envelope', height: 70 });
  const gap = 7, top = 4, bottom = top + strips.reduce((sum, s) => sum + s.height + gap, -gap);
  const svg = make('svg', { viewBox: `0 0 720 ${bottom + 40}`, class: 'drawn', role: 'img', 'aria-label': `Recording ${recording.id}` });
  for (const s of tracks[0].spans.filter((s) => s.state % 2 === 1)) {
    svg.append(make('rect', { class: `shade sound-${s.state}`, x: x(s.from), width: x(s.to) - x(s.from), y: top, height: bottom - top }));
  }
  for (let t = Math.ceil(recording.from); t <= recording.to; t++) {
    const at = x(1000 * (t - recording.from));
    svg.append(make('line', { class: 'grid', x1: at, x2: at, y1: top, y2: bottom }),
      make('text', { x: at, y: bottom + 16, 'text-anchor': 'middle' }, t));
  }
  svg.append(make('line', { class: 'axis', x1: left, x2: right, y1: bottom + 3, y2: bottom + 3 }),
    make('text', { x: (left + right) / 2, y: bottom + 33, 'text-anchor': 'middle', class: 'axis-name' }, 'time in the recording, s'));
  let y = top;
  for (const s of strips) {
    const middle = y + s.height / 2;
    const name = s.name.length > 16 ? s.name.slice(0, 15) + '…' : s.name;
    svg.append(make('text', { x: left - 6, y: middle + 3, 'text-anchor': 'end' }, name));
    if (!s.track) {
      const line = trace.map((v, i) => `${i ? 'L' : 'M'}${x(1000 * data.traceStep * (i + 0.5)).toFixed(1)} ${(y + s.height * (1 - v)).toFixed(1)}`);
      svg.append(make('path', { class: 'trace', d: line.join('') }));
    } else {
      drawTrack(s.track, y, s.height, middle);
    }
    y += s.height + gap;
  }

  function drawTrack(track, y, height, middle) {
    for (const [from, to] of track.unknown) {
      svg.append(make('rect', { class: 'unknown', x: x(from), width: x(to) - x(from), y, height }));
    }
    for (const s of track.spans) {
      const a = x(s.from), b = x(s.to);
      if (s.state % 2 === 0) {
        svg.append(make('line', { class: names[s.state], x1: a, x2: b, y1: middle, y2: middle }));
        continue;
      }
      const edge = s.state === 3 ? 0.18 * height : 0;
      svg.append(make('rect', { class: `sound-${s.state}`, x: a, width: b - a, y: y + edge, height: height - 2 * edge }));
      if (b - a >= 5) svg.append(make('text', { class: 'numeral', x: (a + b) / 2, y: middle + 3, 'text-anchor': 'middle' }, s.state === 1 ? 1 : 2));
    }
    for (const p of track.points) {
      const tall = p.sound === 1 ? 1 : 0.6;
      svg.append(make('line', { class: `point sound-${p.sound}`, x1: x(p.ms), x2: x(p.ms), y1: y + height, y2: y + height * (1 - tall) }),
        make('text', { x: x(p.ms) + 2, y: y + height }, p.sound === 1 ? 1 : 2));
    }
  }

  const shown = tracks.map((t) => ({
    name: t.name,
    states: [...t.spans.map((s) => [s.from, s.to, names[s.state]]), ...t.points.map((p) => [p.ms - 40, p.ms + 40, names[p.sound]])],
  }));
  return { svg, tracks: shown, left, right, seconds: length };
};
