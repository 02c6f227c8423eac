// Prints what columns/main.go prints, read with Polars, but for units and encodings, which
// Polars for JavaScript does not show.
import { createHash } from "node:crypto";
import pl from "nodejs-polars";
import { isNull, line, parts } from "./line.mjs";

const floats = ["Float64", "Float32"];

for (const [name, path] of parts(process.argv[2])) {
  const table = pl.readParquet(path);
  for (const column of table.columns) {
    const series = table.getColumn(column);
    const type = String(series.dtype);
    const values = (type.includes("Categorical") ? series.cast(pl.Utf8) : series).toArray();
    const float = floats.some((f) => type.includes(f));
    const digest = createHash("sha256");
    for (const value of values) digest.update(line(value, float));
    console.log(`${name} ${column} values=${values.length} null=${values.filter(isNull).length} ${digest.digest("hex").slice(0, 16)}`);
  }
}
