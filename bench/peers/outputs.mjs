// The bench's boxes made with sharp: `node outputs.mjs MASTER one-by-one|together`, boxes as JSON on stdin.
// Prints the bytes made and the seconds after the engine was loaded.
import { readFileSync } from "node:fs";
import sharp from "sharp";

const [master, how] = process.argv.slice(2);
const asked = JSON.parse(readFileSync(0, "utf8"));
sharp.cache(false);

// Linear light is not asked for: this is what a script does by default.
const made = ([[x0, y0, x1, y1], [width, height]]) =>
  sharp(master, { limitInputPixels: false })
    .extract({ left: x0, top: y0, width: x1 - x0, height: y1 - y0 })
    .resize(width, height, { fit: "fill", kernel: "lanczos3" })
    .sharpen({ sigma: 0.6 })
    .withIccProfile("srgb")
    .jpeg({ quality: 90, chromaSubsampling: "4:4:4" })
    .toBuffer();

const cpu = process.cpuUsage();
const begun = process.hrtime.bigint();
let bytes = 0;
if (how === "together") {
  for (const file of await Promise.all(asked.map(made))) bytes += file.length;
} else {
  for (const one of asked) bytes += (await made(one)).length;
}
const spent = process.cpuUsage(cpu);
console.log(
  JSON.stringify({
    bytes,
    cpu: (spent.user + spent.system) / 1e6,
    wall: Number(process.hrtime.bigint() - begun) / 1e9,
    peak: process.resourceUsage().maxRSS / 1024,
  }),
);
