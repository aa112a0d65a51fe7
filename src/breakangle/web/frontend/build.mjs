// Bundles the scripts and styles of all screens (src) and of single pages (../pages/*) into ../static, each file named by
// its content, and lists them by source.
import { build } from "esbuild";
import { readdirSync, rmSync, writeFileSync } from "node:fs";
import { basename } from "node:path";

const out = "../static";
rmSync(out, { recursive: true, force: true });
const pages = readdirSync("../pages", { withFileTypes: true }).filter((one) => one.isDirectory());
const folders = ["src", ...pages.map((one) => `../pages/${one.name}`)];
const entries = folders.flatMap((folder) =>
  readdirSync(folder).filter((name) => /\.(js|css|png|svg)$/.test(name)).map((name) => `${folder}/${name}`));
const { metafile } = await build({
  entryPoints: entries,
  outdir: out,
  bundle: true,
  nodePaths: ["node_modules"],
  splitting: true,
  format: "esm",
  target: ["es2022"],
  minify: true,
  metafile: true,
  entryNames: "[name]-[hash]",
  chunkNames: "part-[hash]",
  loader: { ".png": "copy", ".svg": "copy" },
  external: ["/static/*"],
  logLevel: "warning",
});
const listed = {};
for (const [path, { entryPoint }] of Object.entries(metafile.outputs)) {
  listed[entryPoint ? basename(entryPoint) : basename(path)] = basename(path);
}
writeFileSync(`${out}/assets.json`, JSON.stringify(listed, null, 1));
