// Prints what columns/main.go prints, read with hyparquet instead of parquet-go.
import { createHash } from "node:crypto";
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from "hyparquet";
import { isNull, line, parts } from "./line.mjs";

for (const [name, path] of parts(process.argv[2])) {
  const file = await asyncBufferFromFile(path);
  const footer = await parquetMetadataAsync(file);
  const columns = JSON.parse(footer.key_value_metadata.find((kv) => kv.key === "phonocycle.columns").value);
  const rows = await parquetReadObjects({ file });
  columns.forEach((column, i) => {
    const chunks = footer.row_groups.map((group) => group.columns[i].meta_data);
    const float = chunks.some((c) => c.type === "DOUBLE" || c.type === "FLOAT");
    const dictionary = chunks.some((c) => c.encodings.some((e) => e.endsWith("_DICTIONARY")));
    const digest = createHash("sha256");
    for (const row of rows) digest.update(line(row[column.name], float));
    const nulls = rows.filter((row) => isNull(row[column.name])).length;
    const start = `${name} ${column.name} unit=${JSON.stringify(column.unit)} dictionary=${dictionary}`;
    console.log(`${start} values=${rows.length} null=${nulls} ${digest.digest("hex").slice(0, 16)}`);
  });
}
