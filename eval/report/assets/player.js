'use strict';
// attachPlayer makes the controls of a player work. A player shows one recording, or
// several of which one sounds at a time. While it sounds, the cursor moves over its
// figure, and the state under the cursor is named. Without this script the controls
// of the browser remain.
const attachPlayer = (player) => {
  const controls = player.querySelector('.controls');
  if (!controls) return;
  const recordings = (player.dataset.states ? [player] : [...player.querySelectorAll('[data-states]')])
    .map((element) => ({
      element,
      audio: element.querySelector('audio'),
      cursor: element.querySelector('.cursor'),
      drawing: element.querySelector('svg'),
      strip: element.querySelector('.strip'),
      tracks: JSON.parse(element.dataset.states),
      left: Number(element.dataset.left), right: Number(element.dataset.right),
      from: Number(element.dataset.from), seconds: Number(element.dataset.seconds),
    }))
    .filter((r) => r.audio && r.cursor);
  if (recordings.length === 0) return;
  const [play, slow, loop, ask, slider, now] = ['.play', '.slow', '.loop', '.ask', 'input[type=range]', '.now']
    .map((selector) => controls.querySelector(selector));
  const choices = [...controls.querySelectorAll('input[type=radio]')];
  const hearts = document.querySelectorAll('[data-heart]');
  let current = recordings[0];

  const hidden = () => ask && document.body.classList.contains('quiz');
  const stateOf = (track, ms) => {
    const found = track.states.find((s) => s[0] <= ms && ms < s[1]);
    return found ? found[2] : 'none';
  };
  const show = () => {
    const { audio, cursor, drawing, strip, tracks, left, right, from, seconds } = current;
    const t = Math.min(audio.currentTime, seconds), x = (right - left) * t / seconds;
    cursor.setAttribute('transform', `translate(${x.toFixed(2)} 0)`);
    const states = hidden() ? [] : tracks.map((k) => `${k.name}: ${stateOf(k, 1000 * t)}`);
    now.textContent = [`${(from + t).toFixed(2)} s`, ...states].join(' · ');
    slider.value = t;
    slider.setAttribute('aria-valuetext', now.textContent);
    const state = hidden() ? '' : stateOf(tracks[0], 1000 * t);
    for (const heart of hearts) heart.classList.toggle('beating', heart.dataset.heart === state);
    if (!audio.paused && strip.scrollWidth > strip.clientWidth) {
      const at = (left + x) / drawing.viewBox.baseVal.width * strip.scrollWidth;
      strip.scrollLeft = at - strip.clientWidth / 2;
    }
  };
  const follow = () => {
    show();
    if (!current.audio.paused) requestAnimationFrame(follow);
  };
  const seek = (t) => {
    current.audio.currentTime = Math.max(0, Math.min(t, current.seconds));
    show(); // audio that is not loaded yet does not say that it was sought
  };
  const choose = (recording) => {
    if (recording === current) return;
    const { audio } = current, sounds = !audio.paused;
    audio.pause();
    current = recording;
    recordings.forEach((r, i) => {
      r.element.classList.toggle('chosen', r === current);
      choices[i].checked = r === current;
    });
    slider.max = current.seconds;
    seek(audio.currentTime);
    if (sounds) current.audio.play();
  };

  play.addEventListener('click', () => {
    const { audio } = current;
    if (!audio.paused) { audio.pause(); return; }
    for (const other of document.querySelectorAll('audio')) if (other !== audio) other.pause();
    audio.play();
  });
  // pressed makes a button of one that is on or off.
  const pressed = (button, change) => button?.addEventListener('click', () => {
    const on = button.getAttribute('aria-pressed') !== 'true';
    button.setAttribute('aria-pressed', on);
    change(on);
  });
  // At half speed the pitch stays: an octave lower, S1 would be too low for
  // loudspeakers.
  pressed(slow, (on) => { for (const { audio } of recordings) { audio.preservesPitch = true; audio.playbackRate = on ? 0.5 : 1; } });
  pressed(loop, (on) => { for (const { audio } of recordings) audio.loop = on; });
  pressed(ask, (on) => { document.body.classList.toggle('quiz', !on); show(); });
  slider.addEventListener('input', () => seek(Number(slider.value)));
  choices.forEach((choice, i) => choice.addEventListener('change', () => choose(recordings[i])));
  for (const recording of recordings) {
    const { audio, drawing, left, right, seconds } = recording;
    audio.addEventListener('play', () => { play.textContent = 'Pause'; follow(); });
    for (const event of ['pause', 'ended']) {
      audio.addEventListener(event, () => {
        play.textContent = current.audio.paused ? 'Play' : 'Pause';
        show();
      });
    }
    audio.addEventListener('seeked', show);
    drawing.addEventListener('click', (event) => {
      const box = drawing.getBoundingClientRect();
      const x = (event.clientX - box.left) / box.width * drawing.viewBox.baseVal.width;
      choose(recording);
      seek((x - left) / (right - left) * seconds);
    });
    audio.removeAttribute('controls');
  }
  controls.hidden = false;
  show();
};
