-- states from another program, as a table that phonocycle can score
COPY (SELECT recording, state, start_s, end_s, 'threshold' AS remark FROM 'states/*.parquet' ORDER BY recording, start_s)
TO 'predictions.parquet' (FORMAT parquet, COMPRESSION snappy);

COPY (SELECT recording, state, start_s::FLOAT AS start_s, end_s, 'threshold' AS remark FROM 'states/*.parquet' ORDER BY recording, start_s)
TO 'predictions-zstd.parquet' (FORMAT parquet, COMPRESSION zstd);
