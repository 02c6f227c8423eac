// What columns.mjs, arrow.mjs and polars.mjs share: the tables below a folder, and the
// lines of the digest, which columns/main.go explains.
import { existsSync, readdirSync } from "node:fs";

// parts yields table, file and path of each part below a folder.
export function* parts(root) {
  for (const table of readdirSync(root).sort()) {
    if (!existsSync(`${root}/${table}/part-000000.parquet`)) continue;
    for (const part of readdirSync(`${root}/${table}`).sort()) yield [`${table}/${part}`, `${root}/${table}/${part}`];
  }
}

const eight = new DataView(new ArrayBuffer(8));

export const isNull = (v) => v === null || v === undefined;

// line returns the line of a value in the digest.
export const line = (v, float) => {
  if (isNull(v)) return "N\n";
  if (typeof v === "string") return `s${v}\n`;
  if (typeof v === "boolean") return `b${v}\n`;
  if (typeof v === "object") return `[\n${Array.from(v, (e) => line(e, float)).join("")}]\n`;
  if (!float) return `i${v}\n`;
  eight.setFloat64(0, v);
  return `f${eight.getBigUint64(0).toString(16).padStart(16, "0")}\n`;
};
