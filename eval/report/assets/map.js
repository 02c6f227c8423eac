
// recordingClasses are the classes of recordings in the map, worst first. They differ
// in shape as well as in colour; the style sheet has the colours.
const recordingClasses = [
  { name: 'failed', shape: 'cross', holds: (r) => r.status === 'failed' },
  { name: 'no score', shape: 'ring', holds: (r) => r.f1 === undefined },
  { name: 'S1 and S2 exchanged', shape: 'hourglass', holds: (r) => r.exchanged },
  { name: 'below 50 %', shape: 'square', holds: (r) => r.f1 < 50 },
  { name: '50 to 75 %', shape: 'diamond', holds: (r) => r.f1 < 75 },
  { name: '75 to 90 %', shape: 'triangle', holds: (r) => r.f1 < 90 },
  { name: '90 to 95 %', shape: 'circle', holds: (r) => r.f1 < 95 },
  { name: '95 % and above', shape: 'dot', holds: () => true },
];

// markPath returns the path of a shape around a place; h is half its size.
const markPath = (shape, x, y, h) => {
  const n = (v) => v.toFixed(1);
  const circle = (r) => `M${n(x - r)} ${n(y)}a${n(r)} ${n(r)} 0 1 0 ${n(2 * r)} 0a${n(r)} ${n(r)} 0 1 0 ${n(-2 * r)} 0`;
  const l = n(x - h), r = n(x + h), t = n(y - h), b = n(y + h);
  switch (shape) {
    case 'cross': return `M${l} ${t}L${r} ${b}M${l} ${b}L${r} ${t}`;
    case 'hourglass': return `M${l} ${t}H${r}L${l} ${b}H${r}Z`;
    case 'square': return `M${l} ${t}H${r}V${b}H${l}Z`;
    case 'diamond': return `M${n(x)} ${t}L${r} ${n(y)}L${n(x)} ${b}L${l} ${n(y)}Z`;
    case 'triangle': return `M${n(x)} ${t}L${r} ${b}H${l}Z`;
    case 'dot': return circle(0.6 * h);
    default: return circle(0.9 * h);
  }
};

// recordingMap draws a mark for each recording, grouped by person or by a label, the
// worst first. What it shows is named as the pointer or the arrow keys reach it. It
// calls open with the position of a recording, and choose with a class or −1.
const recordingMap = (data, open, choose) => {
  const svgSpace = 'http://www.w3.org/2000/svg';
  const place = document.getElementById('recording-map');
  const all = data.recordings;
  const classOf = all.map((r) => recordingClasses.findIndex((c) => c.holds(r)));
  const rank = (i) => (all[i].status === 'failed' ? -2 : all[i].f1 ?? -1);

  const by = document.createElement('select');
  by.id = 'map-by';
  by.append(new Option('person', ''), ...data.labels.map((l, k) => new Option(l.name.replaceAll('_', ' '), k)));
  by.value = Math.max(0, data.labels.findIndex((l) => l.name === data.groupBy));
  if (data.labels.length === 0 || data.groupBy === '') by.value = '';
  const byLabel = document.createElement('label');
  byLabel.append('Grouped by ', by);

  const svg = document.createElementNS(svgSpace, 'svg');
  svg.setAttribute('role', 'listbox');
  svg.setAttribute('tabindex', '0');
  svg.setAttribute('aria-label', `Map of ${all.length} recordings: arrow keys go from one to the next, Enter opens it`);
  const note = document.createElement('p');
  note.className = 'map-note quiet';
  note.setAttribute('role', 'status');
  const legend = document.createElement('p');
  legend.className = 'map-legend';
  place.replaceChildren(byLabel, legend, svg, note);

  let chosen = -1;
  recordingClasses.forEach((c, k) => {
    const count = classOf.filter((x) => x === k).length;
    if (count === 0) return;
    const button = document.createElement('button');
    const icon = document.createElementNS(svgSpace, 'svg');
    icon.setAttribute('viewBox', '0 0 12 12');
    icon.innerHTML = `<path class="mark ${c.shape}" d="${markPath(c.shape, 6, 6, 5)}"/>`;
    button.type = 'button';
    button.dataset.class = k;
    button.setAttribute('aria-pressed', 'false');
    button.append(icon, ` ${c.name} (${count})`);
    button.addEventListener('click', () => choose(chosen === k ? -1 : k));
    legend.append(button);
  });

  // groups returns the recordings of each group, worst first, with the name of the group.
  const groups = () => {
    const sorted = all.map((_, i) => i).sort((a, b) => rank(a) - rank(b) || a - b);
    if (by.value !== '') {
      const label = data.labels[by.value];
      const list = label.values.map((name, v) => ({ name, marks: sorted.filter((i) => all[i].labels[by.value] === v) }));
      list.push({ name: '–', marks: sorted.filter((i) => all[i].labels[by.value] < 0) });
      return list.filter((g) => g.marks.length > 0);
    }
    const people = new Map();
    for (const i of sorted) people.set(all[i].person, [...(people.get(all[i].person) ?? []), i]);
    const mean = (marks) => marks.reduce((sum, i) => sum + rank(i), 0) / marks.length;
    return [...people.values()].map((marks) => ({ name: '', marks, mean: mean(marks) })).sort((a, b) => a.mean - b.mean);
  };

  let at = [], order = [], size = 0, active = -1;
  const arrange = (list, width, s, named) => {
    const gutter = named ? Math.min(120, 0.32 * width) : 0, texts = [];
    let x = gutter, y = s / 2 + 1;
    for (const g of list) {
      if (named) {
        texts.push({ y, text: `${g.name} (${g.marks.length})` });
      } else if (x + s * g.marks.length > width && x > gutter) {
        x = gutter;
        y += s;
      }
      const first = y;
      for (const i of g.marks) {
        if (x + s > width) { x = gutter; y += s; }
        at[i] = [x + s / 2, y];
        x += s;
      }
      if (named) {
        x = gutter;
        y = Math.max(y + s, first + 13) + 3;
      } else {
        x += s / 2;
      }
    }
    return { height: y + (named ? 0 : s / 2 + 1), texts, gutter };
  };
  const draw = () => {
    const width = Math.max(place.clientWidth, 200), list = groups(), named = by.value !== '';
    order = list.flatMap((g) => g.marks);
    let layout;
    for (size = 16; size >= 3; size -= 0.5) {
      layout = arrange(list, width, size, named);
      if (layout.height <= 300) break;
    }
    svg.setAttribute('viewBox', `0 0 ${width} ${layout.height.toFixed(1)}`);
    svg.innerHTML = order.map((i) => {
      const shape = recordingClasses[classOf[i]].shape;
      return `<path class="mark ${shape}" id="mark-${i}" role="option" d="${markPath(shape, at[i][0], at[i][1], 0.42 * size)}"/>`;
    }).join('');
    for (const t of layout.texts) {
      const text = document.createElementNS(svgSpace, 'text');
      const most = Math.floor(layout.gutter / 6);
      text.setAttribute('x', layout.gutter - 5);
      text.setAttribute('y', t.y + 4);
      text.setAttribute('text-anchor', 'end');
      text.textContent = t.text.length > most ? t.text.slice(0, most - 1) + '…' : t.text;
      svg.append(text);
    }
    dim();
    mark();
  };

  // dim fades the recordings that the filters leave out.
  let kept = null;
  const dim = () => {
    for (const i of order) document.getElementById(`mark-${i}`).classList.toggle('faded', kept !== null && !kept.has(i));
  };
  let opened = -1;
  const mark = () => {
    for (const p of svg.querySelectorAll('.opened, .active')) p.classList.remove('opened', 'active');
    if (opened >= 0) document.getElementById(`mark-${opened}`).classList.add('opened');
    if (active >= 0) document.getElementById(`mark-${active}`).classList.add('active');
  };
  const describe = (i) => {
    const r = all[i], parts = [r.id];
    if (r.person) parts.push(`person ${r.person}`);
    parts.push(r.f1 === undefined ? r.reason || r.status : `F1 ${r.f1.toFixed(1)} %`);
    if (r.exchanged) parts.push('S1 and S2 exchanged');
    if (by.value !== '') parts.push(`${data.labels[by.value].name.replaceAll('_', ' ')} ${data.labels[by.value].values[r.labels[by.value]] ?? '–'}`);
    return parts.join(' · ');
  };
  const hint = 'Point at a mark, or use the arrow keys; click or press Enter to open it.';
  const name = (i) => {
    active = i;
    note.textContent = i < 0 ? hint : describe(i);
    if (i >= 0) {
      const path = document.getElementById(`mark-${i}`);
      path.setAttribute('aria-label', describe(i));
      svg.setAttribute('aria-activedescendant', path.id);
    }
    mark();
  };
  const under = (event) => {
    const box = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / box.width;
    const x = (event.clientX - box.left) * scale, y = (event.clientY - box.top) * scale;
    let best = -1, distance = Math.max(size, 6);
    for (const i of order) {
      const d = Math.hypot(at[i][0] - x, at[i][1] - y);
      if (d < distance) { distance = d; best = i; }
    }
    return best;
  };
  svg.addEventListener('pointermove', (event) => { const i = under(event); if (i !== active) name(i); });
  svg.addEventListener('pointerleave', () => name(-1));
  svg.addEventListener('click', (event) => { const i = under(event); if (i >= 0) { name(i); open(i); } });
  svg.addEventListener('focus', () => { if (active < 0) name(opened >= 0 ? opened : order[0]); });
  svg.addEventListener('keydown', (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (step) {
      const next = order.indexOf(active) + step;
      if (next >= 0 && next < order.length) name(order[next]);
    } else if (event.key === 'Enter' && active >= 0) {
      open(active);
    } else {
      return;
    }
    event.preventDefault();
  });
  by.addEventListener('change', draw);
  note.textContent = hint;
  draw();
  let width = place.clientWidth;
  new ResizeObserver(() => { if (place.clientWidth !== width) { width = place.clientWidth; draw(); } }).observe(place);
  return {
    classOf,
    keep: (list, k) => {
      kept = list.length === all.length ? null : new Set(list);
      chosen = k;
      for (const b of legend.children) b.setAttribute('aria-pressed', Number(b.dataset.class) === k);
      dim();
    },
    opened: (i) => { opened = i; mark(); },
  };
};
