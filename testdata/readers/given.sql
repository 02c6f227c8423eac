-- states that another program found, as a table that phonocycle can go on with
COPY (SELECT recording, state, start_s, end_s, 'threshold' AS remark FROM 'states/*.parquet' ORDER BY recording, start_s)
TO 'given.parquet' (FORMAT parquet, COMPRESSION snappy);

COPY (SELECT recording, state, start_s::FLOAT AS start_s, end_s, 'threshold' AS remark FROM 'states/*.parquet' ORDER BY recording, start_s)
TO 'given-zstd.parquet' (FORMAT parquet, COMPRESSION zstd);
