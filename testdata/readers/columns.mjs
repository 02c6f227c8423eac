// Prints what columns/main.go prints, read with hyparquet instead of parquet-go.
import { createHash } from "node:crypto";
import { existsSync, readdirSync } from "node:fs";
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from "hyparquet";

const eight = new DataView(new ArrayBuffer(8));

// line returns the line of a value in the digest.
const line = (v, float) => {
  if (v === null || v === undefined) return "N\n";
  if (typeof v === "string") return `s${v}\n`;
  if (typeof v === "boolean") return `b${v}\n`;
  if (typeof v === "object") return `[\n${Array.from(v, (e) => line(e, float)).join("")}]\n`;
  if (!float) return `i${v}\n`;
  eight.setFloat64(0, v);
  return `f${eight.getBigUint64(0).toString(16).padStart(16, "0")}\n`;
};

const root = process.argv[2];
for (const table of readdirSync(root).sort()) {
  if (!existsSync(`${root}/${table}/part-000000.parquet`)) continue;
  for (const part of readdirSync(`${root}/${table}`).sort()) {
    const file = await asyncBufferFromFile(`${root}/${table}/${part}`);
    const footer = await parquetMetadataAsync(file);
    const columns = JSON.parse(footer.key_value_metadata.find((kv) => kv.key === "phonocycle.columns").value);
    const rows = await parquetReadObjects({ file });
    columns.forEach(({ name, unit }, i) => {
      const chunks = footer.row_groups.map((group) => group.columns[i].meta_data);
      const float = chunks.some((c) => c.type === "DOUBLE" || c.type === "FLOAT");
      const dictionary = chunks.some((c) => c.encodings.some((e) => e.endsWith("_DICTIONARY")));
      const digest = createHash("sha256");
      for (const row of rows) digest.update(line(row[name], float));
      const nulls = rows.filter((row) => row[name] === null || row[name] === undefined).length;
      const start = `${table}/${part} ${name} unit=${JSON.stringify(unit)} dictionary=${dictionary}`;
      console.log(`${start} values=${rows.length} null=${nulls} ${digest.digest("hex").slice(0, 16)}`);
    });
  }
}
