// Prints what columns/main.go prints, read with Arrow's Rust library (parquet-wasm). The
// units come from the metadata of the Arrow fields, after a check that unit, definition and
// source there are those in the metadata of the file.
import { createHash } from "node:crypto";
import { openAsBlob } from "node:fs";
import { DataType, tableFromIPC } from "apache-arrow";
import { Encoding, ParquetFile } from "parquet-wasm";
import { isNull, line, parts } from "./line.mjs";

for (const [name, path] of parts(process.argv[2])) {
  const file = await ParquetFile.fromFile(await openAsBlob(path));
  const groups = file.metadata().rowGroups().map((group) => group.columns());
  const table = tableFromIPC((await file.read()).intoIPCStream());
  const described = JSON.parse(file.metadata().fileMetadata().keyValueMetadata().get("phonocycle.columns"));
  table.schema.fields.forEach((field, i) => {
    for (const key of ["name", "unit", "doc", "source", "range", "null"]) {
      const own = key === "name" ? field.name : (field.metadata.get(key) ?? "");
      if (own !== (described[i][key] ?? "")) throw new Error(`${path}: ${field.name}: ${key} is ${own}, and ${described[i][key]} in the file`);
    }
    const element = DataType.isFixedSizeList(field.type) ? field.type.children[0].type : field.type;
    const dictionary = groups.some((group) => group[i].encodings().some((e) => Encoding[e].endsWith("_DICTIONARY")));
    const digest = createHash("sha256");
    const column = table.getChildAt(i);
    for (const value of column) digest.update(line(value, DataType.isFloat(element)));
    const nulls = Array.from(column).filter(isNull).length;
    const start = `${name} ${field.name} unit=${JSON.stringify(field.metadata.get("unit"))} dictionary=${dictionary}`;
    console.log(`${start} values=${column.length} null=${nulls} ${digest.digest("hex").slice(0, 16)}`);
  });
}
