-- mean length of each state, in seconds
SELECT recording, state, round(avg(end_s - start_s), 6) AS mean_s
FROM 'states/*.parquet' WHERE source = 'predicted' GROUP BY ALL ORDER BY ALL;

-- F1 pooled over events ("gross") at 60 ms and the centre, null where it is not defined
SELECT class, sum(tp)::INT AS tp, 2 * sum(tp) / nullif(2 * sum(tp) + sum(fp) + sum(fn), 0) AS f1, avg(precision) AS mean_precision
FROM 'scores/*.parquet' WHERE anchor = 'centre' AND tolerance_ms = 60 GROUP BY class ORDER BY class;

-- vectors of the cycles, with a feature
SELECT recording, systole_duration_s, "window" FROM 'cycles/*.parquet' ORDER BY ALL;

-- unit and definition of each column that has a unit
SELECT c->>'name' AS name, c->>'unit' AS unit, c->>'doc' AS doc
FROM (SELECT unnest(from_json(decode(value), '["json"]')) AS c FROM parquet_kv_metadata('cycles/*.parquet') WHERE decode(key) = 'phonocycle.columns')
WHERE c->>'unit' <> '';
