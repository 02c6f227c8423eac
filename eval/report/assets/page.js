(() => {
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

  document.querySelectorAll('.player').forEach(attachPlayer);
  document.querySelectorAll('table.sortable').forEach(sortable);

  // Folds print open. A link to a place in a fold opens it.
  let folded = [];
  addEventListener('beforeprint', () => {
    folded = [...document.querySelectorAll('details:not([open])')];
    for (const fold of folded) fold.open = true;
  });
  addEventListener('afterprint', () => { for (const fold of folded) fold.open = false; });
  const unfold = () => {
    const fold = document.getElementById(location.hash.slice(1))?.closest('details');
    if (fold) fold.open = true;
  };
  addEventListener('hashchange', unfold);
  unfold();
})();
