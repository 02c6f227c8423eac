
// The browser of recordings: a list with filters, and a viewer that shows one recording.
// A chosen recording stands in the page; any other is drawn when it is opened.
(() => {
  const data = JSON.parse(document.getElementById('page-data').textContent);
  const all = data.recordings;
  if (all.length === 0) return;
  for (const r of all) r.sounds = Boolean(r.audio || (r.article && document.querySelector(`#${r.article} audio`)));
  const section = document.getElementById('recordings-section');
  const find = (selector) => section.querySelector(selector);
  const element = (tag, attributes, ...children) => {
    const e = document.createElement(tag);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    e.append(...children);
    return e;
  };
  const viewer = find('.viewer'), body = find('tbody'), form = find('.filters');
  const control = (name) => document.getElementById(`filter-${name}`);
  const notes = (r) => [
    r.status === 'scored' ? '' : r.status, r.exchanged ? 'S1 and S2 exchanged' : '',
    ...(r.audit ?? []).map((a) => data.reasons[a.reason]), r.sounds ? '♪' : '',
  ].filter(Boolean).join('; ');
  const valueOf = (r, label) => (label === '' ? '' : data.labels[label].values[r.labels[label]] ?? '');

  // Filters and order.
  let shown = [], drawn = 0, current = -1, chosenClass = -1;
  const sort = { key: 'f1', falling: false };
  const key = {
    id: (r) => r.id, person: (r) => r.person, f1: (r) => r.f1, note: notes, label: (r) => valueOf(r, control('label').value),
  };
  const compare = (a, b) => {
    const x = key[sort.key](all[a]), y = key[sort.key](all[b]);
    if (x === y) return a - b;
    if (x === undefined || x === '') return 1;
    if (y === undefined || y === '') return -1;
    const c = typeof x === 'number' ? x - y : x.localeCompare(y, 'en', { numeric: true });
    return (sort.falling ? -c : c) || a - b;
  };
  const filter = () => {
    const text = control('text').value.trim().toLowerCase(), group = control('group').value;
    const label = control('label').value, value = control('value').value, reason = control('reason')?.value ?? '';
    const low = control('low').value, high = control('high').value;
    const members = group === '' || group === 'sound' ? null : new Set(data.groups[group].recordings);
    shown = [...all.keys()].filter((i) => {
      const r = all[i];
      return (text === '' || r.id.toLowerCase().includes(text) || r.person.toLowerCase().includes(text)) &&
        (members === null || members.has(i)) && (group !== 'sound' || r.sounds) &&
        (label === '' || value === '' || r.labels[label] === Number(value)) &&
        (reason === '' || (r.audit ?? []).some((a) => a.reason === Number(reason))) &&
        (low === '' || r.f1 >= Number(low)) && (high === '' || r.f1 <= Number(high)) &&
        (chosenClass < 0 || map.classOf[i] === chosenClass);
    }).sort(compare);
    find('th.label button').textContent = label === '' ? 'label' : data.labels[label].name.replaceAll('_', ' ');
    section.classList.toggle('without-label', label === '');
    find('.count').textContent = shown.length === all.length ? `${all.length} recordings` : `${shown.length} of ${all.length} recordings`;
    map.keep(shown, chosenClass);
    body.replaceChildren();
    drawn = 0;
    drawRows(100);
    limitSteps();
  };
  const limitSteps = () => {
    const at = shown.indexOf(current);
    find('.previous').disabled = at === 0;
    find('.next').disabled = at === shown.length - 1;
  };
  const drawRows = (n) => {
    for (; drawn < Math.min(n, shown.length); drawn++) {
      const i = shown[drawn], r = all[i];
      const button = element('button', { type: 'button' }, r.id);
      const row = element('tr', { 'data-i': i }, element('th', { scope: 'row' }, button), element('td', {}, r.person),
        element('td', { class: 'n' }, r.f1 === undefined ? '–' : r.f1.toFixed(1)), element('td', { class: 'label' }, valueOf(r, control('label').value)),
        element('td', {}, notes(r)));
      if (i === current) row.setAttribute('aria-current', 'true');
      body.append(row);
    }
  };
  const fill = (select, options) => select.replaceChildren(...options.map(([text, value]) => new Option(text, value)));
  const fillValues = () => {
    const label = control('label').value;
    fill(control('value'), [['any', ''], ...(label === '' ? [] : data.labels[label].values.map((v, k) => [v, k]))]);
  };
  fill(control('label'), [['none', ''], ...data.labels.map((l, k) => [l.name.replaceAll('_', ' '), k])]);
  fill(control('group'), [['all', ''], ...data.groups.map((g, k) => [`${g.title} (${g.recordings.length})`, k]),
    ...(all.some((r) => r.sounds) ? [['with sound', 'sound']] : [])]);
  if (control('reason')) fill(control('reason'), [['any', ''], ...data.reasons.map((r, k) => [r, k])]);
  fillValues();

  // The viewer.
  const facts = (r) => {
    const list = [];
    if (r.status !== 'scored') list.push([r.status, r.reason]);
    if (r.f1 !== undefined) list.push(['F1', `${r.f1.toFixed(1)} %`], ['detected', `${r.tp} of ${r.tp + r.fn} sounds`], ['false positives', r.fp]);
    if (r.rates) list.push(['beats per minute', `${r.rates[0]}, predicted ${r.rates[1]}`]);
    if (r.exchanged) list.push(['note', 'higher score with S1 and S2 exchanged']);
    if (r.person) list.push(['person', r.person]);
    data.labels.forEach((l, k) => { if (r.labels[k] >= 0) list.push([l.name.replaceAll('_', ' '), l.values[r.labels[k]]]); });
    for (const a of r.audit ?? []) list.push([data.reasons[a.reason], a.evidence]);
    return element('dl', { class: 'facts' }, ...list.map(([name, value]) => element('div', {}, element('dt', {}, name), element('dd', {}, String(value)))));
  };
  const article = (r) => {
    if (r.to <= r.from) {
      return element('article', { class: 'player open' }, element('h4', {}, `Recording ${r.id}`), facts(r), element('p', {}, 'Neither sound nor reference can be read.'));
    }
    const { svg, tracks, left, right, seconds } = drawOutline(r, data);
    const strip = element('div', { class: 'strip', tabindex: 0, role: 'group', 'aria-label': `Figure of recording ${r.id}; scrolls sideways on narrow screens` }, svg);
    const player = element('article', { class: 'player open', 'data-states': JSON.stringify(tracks), 'data-left': left, 'data-right': right, 'data-from': r.from, 'data-seconds': seconds },
      element('h4', {}, `Recording ${r.id}`), facts(r), strip);
    if (r.audio) {
      const cursor = document.createElementNS(svg.namespaceURI, 'line');
      for (const [name, value] of Object.entries({ class: 'cursor', x1: left, x2: left, y1: 2, y2: svg.viewBox.baseVal.height - 38 })) cursor.setAttribute(name, value);
      svg.append(cursor);
      player.append(element('audio', { controls: '', preload: 'none', src: r.audio }),
        element('div', { class: 'controls', hidden: '' },
          element('button', { type: 'button', class: 'play', 'aria-label': `Play or pause recording ${r.id}` }, 'Play'),
          element('button', { type: 'button', class: 'slow', 'aria-pressed': 'false' }, 'Half speed'),
          element('input', { type: 'range', min: 0, max: seconds, step: 0.05, value: 0, 'aria-label': `Position in recording ${r.id}` }),
          element('p', { class: 'now' })));
    }
    return player;
  };
  const open = (i) => {
    const r = all[i];
    for (const audio of viewer.querySelectorAll('audio')) audio.pause();
    for (const old of viewer.querySelectorAll('.player.open')) old.classList.remove('open');
    find('.opened').replaceChildren();
    if (r.article) {
      document.getElementById(r.article).classList.add('open');
    } else {
      const player = article(r);
      find('.opened').append(player);
      attachPlayer(player);
    }
    current = i;
    const at = shown.indexOf(i);
    if (at >= drawn) drawRows(at + 50);
    for (const row of body.rows) {
      if (Number(row.dataset.i) !== i) { row.removeAttribute('aria-current'); continue; }
      row.setAttribute('aria-current', 'true');
      const list = row.closest('.rows'), top = row.offsetTop, height = list.clientHeight;
      if (top < list.scrollTop + 40 || top + row.offsetHeight > list.scrollTop + height) list.scrollTop = top - height / 2;
    }
    map.opened(i);
    limitSteps();
  };
  const step = (by) => {
    const at = shown.indexOf(current) + by;
    if (at >= 0 && at < shown.length) open(shown[at]);
  };
  const map = recordingMap(data, (i) => {
    if (!shown.includes(i)) form.reset();
    open(i);
    document.getElementById('recordings').scrollIntoView();
    document.getElementById('recordings').focus({ preventScroll: true });
  }, (k) => {
    chosenClass = k;
    filter();
  });

  // Controls.
  form.addEventListener('submit', (event) => event.preventDefault());
  form.addEventListener('input', (event) => {
    if (event.target === control('label')) fillValues();
    filter();
  });
  form.addEventListener('reset', () => setTimeout(() => { chosenClass = -1; fillValues(); filter(); }));
  body.addEventListener('click', (event) => {
    const row = event.target.closest('tr');
    if (row) open(Number(row.dataset.i));
  });
  find('.list .rows').addEventListener('scroll', (event) => {
    const list = event.currentTarget;
    if (list.scrollTop + 2 * list.clientHeight > list.scrollHeight) drawRows(drawn + 100);
  });
  for (const head of section.querySelectorAll('th[data-key]')) {
    const button = element('button', { type: 'button' }, ...head.childNodes);
    head.append(button);
    button.addEventListener('click', () => {
      sort.falling = sort.key === head.dataset.key && !sort.falling;
      sort.key = head.dataset.key;
      for (const other of section.querySelectorAll('th[data-key]')) other.removeAttribute('aria-sort');
      head.setAttribute('aria-sort', sort.falling ? 'descending' : 'ascending');
      filter();
    });
  }
  find('th[data-key="f1"]').setAttribute('aria-sort', 'ascending');
  find('.previous').addEventListener('click', () => step(-1));
  find('.next').addEventListener('click', () => step(1));
  document.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches('input:not([type="range"]), select, textarea')) return;
    if (event.key === 'n') step(1);
    else if (event.key === 'p') step(-1);
    else if (event.key === 'k') viewer.querySelector('.player.open .play')?.click();
    else return;
    event.preventDefault();
  });

  viewer.classList.add('live');
  find('.browser').hidden = false;
  find('.steps').hidden = false;
  filter();
  const worst = data.groups.find((g) => g.title === 'Worst') ?? data.groups[0];
  open(worst && worst.recordings.length > 0 ? worst.recordings[0] : shown[0]);
})();
