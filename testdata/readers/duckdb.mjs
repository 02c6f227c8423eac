// Runs the queries of a file in a folder and prints each row as JSON.
import { readFileSync } from "node:fs";
import { DuckDBInstance } from "@duckdb/node-api";

const [queries, folder] = process.argv.slice(2);
const text = readFileSync(queries, "utf8");
process.chdir(folder);
const connection = await (await DuckDBInstance.create()).connect();
for (const query of text.split(/;\n/).filter((q) => q.trim())) {
  const result = await connection.runAndReadAll(query);
  for (const row of result.getRowObjectsJson()) console.log(JSON.stringify(row));
}
