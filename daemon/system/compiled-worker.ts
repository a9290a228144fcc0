/** Node runs the compiled thread; where this file itself is run from its source, as tests do, that lies in dist/. */
export function compiledWorker(name: string): URL {
  return import.meta.url.endsWith(".ts")
    ? new URL(`../../dist/daemon/system/${name}.js`, import.meta.url)
    : new URL(`./${name}.js`, import.meta.url);
}
