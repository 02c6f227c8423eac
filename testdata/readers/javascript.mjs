// Reads a part of the table scores without a query engine.
import { asyncBufferFromFile, parquetReadObjects } from "hyparquet";

const file = await asyncBufferFromFile(process.argv[2] + "/scores/part-000000.parquet");
for (const row of await parquetReadObjects({ file })) console.log(row.recording, row.class, row.tp, row.f1);
