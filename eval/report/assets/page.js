'use strict';
(() => {
  // A player moves the cursor of its figure while its audio plays, and shows the
  // state of each track. Without this script the controls of the browser remain.
  const attach = (player) => {
    const audio = player.querySelector('audio');
    const cursor = player.querySelector('.cursor');
    const controls = player.querySelector('.controls');
    if (!audio || !cursor || !controls) return;
    const drawing = player.querySelector('svg');
    const strip = player.querySelector('.strip');
    const play = controls.querySelector('.play');
    const slow = controls.querySelector('.slow');
    const slider = controls.querySelector('input');
    const now = controls.querySelector('.now');
    const tracks = JSON.parse(player.dataset.states);
    const hearts = player.dataset.hearts ? document.querySelectorAll('[data-heart]') : [];
    const left = Number(player.dataset.left), right = Number(player.dataset.right);
    const from = Number(player.dataset.from), seconds = Number(player.dataset.seconds);

    const stateOf = (track, ms) => {
      const found = track.states.find((s) => s[0] <= ms && ms < s[1]);
      return found ? found[2] : 'none';
    };
    const show = () => {
      const t = Math.min(audio.currentTime, seconds), x = (right - left) * t / seconds;
      cursor.setAttribute('transform', `translate(${x.toFixed(2)} 0)`);
      const states = tracks.map((k) => `${k.name}: ${stateOf(k, 1000 * t)}`).join(' · ');
      now.textContent = `${(from + t).toFixed(2)} s · ${states}`;
      slider.value = t;
      slider.setAttribute('aria-valuetext', now.textContent);
      for (const heart of hearts) heart.classList.toggle('beating', heart.dataset.heart === stateOf(tracks[0], 1000 * t));
      if (strip.scrollWidth > strip.clientWidth && !audio.paused) {
        const at = (left + x) / drawing.viewBox.baseVal.width * strip.scrollWidth;
        strip.scrollLeft = at - strip.clientWidth / 2;
      }
    };
    const follow = () => {
      show();
      if (!audio.paused) requestAnimationFrame(follow);
    };
    play.addEventListener('click', () => {
      if (!audio.paused) { audio.pause(); return; }
      for (const other of document.querySelectorAll('audio')) if (other !== audio) other.pause();
      audio.play();
    });
    audio.addEventListener('play', () => { play.textContent = 'Pause'; follow(); });
    for (const event of ['pause', 'ended']) {
      audio.addEventListener(event, () => { play.textContent = 'Play'; show(); });
    }
    audio.addEventListener('seeked', show);
    slow.addEventListener('click', () => {
      const half = slow.getAttribute('aria-pressed') !== 'true';
      slow.setAttribute('aria-pressed', half);
      audio.playbackRate = half ? 0.5 : 1;
    });
    const seek = (t) => { audio.currentTime = Math.max(0, Math.min(t, seconds)); show(); }; // not loaded, it does not say that it was sought
    slider.addEventListener('input', () => seek(Number(slider.value)));
    drawing.addEventListener('click', (event) => {
      const box = drawing.getBoundingClientRect();
      const x = (event.clientX - box.left) / box.width * drawing.viewBox.baseVal.width;
      seek((x - left) / (right - left) * seconds);
    });
    audio.removeAttribute('controls');
    controls.hidden = false;
    show();
  };

  // A table is sorted by a column when the button in its heading is pressed: first
  // ascending, then descending. Cells without a value are always last.
  const sortable = (table) => {
    const heads = [...table.querySelectorAll('thead th[data-sort]')];
    for (const head of heads) {
      const button = document.createElement('button');
      button.type = 'button';
      button.append(...head.childNodes);
      head.append(button);
      head.setAttribute('aria-sort', 'none');
      button.addEventListener('click', () => {
        const falling = head.getAttribute('aria-sort') === 'ascending';
        for (const other of heads) other.setAttribute('aria-sort', 'none');
        head.setAttribute('aria-sort', falling ? 'descending' : 'ascending');
        order(table, head.cellIndex, head.dataset.sort === 'number', falling);
      });
    }
  };
  const order = (table, column, numeric, falling) => {
    const body = table.tBodies[0];
    const key = (row) => row.cells[column].dataset.value ?? row.cells[column].textContent.trim();
    const compare = (a, b) => {
      if (a === b) return 0;
      if (a === '') return 1;
      if (b === '') return -1;
      const c = numeric ? Number(a) - Number(b) : a.localeCompare(b, 'en', { numeric: true });
      return falling ? -c : c;
    };
    const rows = [...body.rows].map((row) => ({ row, key: key(row) }));
    rows.sort((a, b) => compare(a.key, b.key));
    body.append(...rows.map((r) => r.row));
  };

  document.querySelectorAll('.player').forEach(attach);
  document.addEventListener('player', (event) => attach(event.target)); // one that a script has added
  document.querySelectorAll('table.sortable').forEach(sortable);

  // Folds print open. A link to a place in a fold opens it.
  let folded = [];
  addEventListener('beforeprint', () => {
    folded = [...document.querySelectorAll('details:not([open])')];
    for (const fold of folded) fold.open = true;
  });
  addEventListener('afterprint', () => { for (const fold of folded) fold.open = false; });
  const unfold = () => {
    const fold = document.getElementById(decodeURIComponent(location.hash.slice(1)))?.closest('details');
    if (fold) fold.open = true;
  };
  addEventListener('hashchange', unfold);
  unfold();
})();
