// What stands in a page that was built: the module, the page's own door to it, and its files.

import { runInThisContext } from "node:vm";
import { gunzipSync } from "node:zlib";
import assert from "node:assert/strict";

export function loaded(html) {
  // The door as it stands in the page.
  const door = html.slice(html.indexOf("// The wasm module:"), html.indexOf("// What the buttons do:"));
  const { Pool, Refused } = runInThisContext(`${door}\n({ Pool, Refused })`);
  const packed = /<script type="text\/plain" id="module">\s*([A-Za-z0-9+/=]+)\s*<\/script>/.exec(html)[1];
  const module = gunzipSync(Buffer.from(packed, "base64"));
  assert.deepEqual(WebAssembly.Module.imports(new WebAssembly.Module(module)), [], "the module needs nothing from outside");

  function scenario(file) {
    const begin = html.indexOf("\n", html.indexOf(`data-file="${file}">`)) + 1;
    assert(begin > 0, `${file} is not in the page`);
    return html.slice(begin, html.indexOf("</script>", begin)).replaceAll("<\\/", "</");
  }

  return { Pool, Refused, module, scenario };
}
