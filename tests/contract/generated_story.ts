// The main job through types that were generated from the document; compiled strictly, then run where they are.
import createClient from "openapi-fetch";
import type { paths } from "./heelmark.js";

function must<T>(value: T | undefined, told?: unknown): T {
  if (value === undefined) throw new Error(JSON.stringify(told));
  return value;
}
function same(one: unknown, other: unknown): void {
  if (JSON.stringify(one) !== JSON.stringify(other)) throw new Error(`${JSON.stringify(one)} is not ${JSON.stringify(other)}`);
}

async function story(url: string, token: string): Promise<void> {
  const client = createClient<paths>({ baseUrl: url, headers: { Authorization: `Bearer ${token}` } });

  const made = await client.POST("/api/v1/cylinders", { body: { serial: "HM-1", place: "shop", tare_lb: 27.4 } });
  same(must(made.data, made.error).serial, "HM-1");
  const again = await client.POST("/api/v1/cylinders", { body: { serial: "HM-1" } });
  same(again.error?.type, "/problems/conflict");

  const hookup = must((await client.POST("/api/v1/hookups", { body: { cylinder: "HM-1", pressure_device: "probe-1" } })).data);
  const sent = {
    body: { hookup: hookup.id, temperature_f: 68, gauge_pressure_psi: 117.3 },
    params: { header: { "Idempotency-Key": "k" } },
  };
  const first = must((await client.POST("/api/v1/equilibrium-pairs", sent)).data);
  const second = must((await client.POST("/api/v1/equilibrium-pairs", sent)).data);
  same(first, second);
  same(first.pair.atmospheric_pressure_source, "elevation");

  const path = { params: { path: { serial: "HM-1" } } };
  const verdict = must((await client.GET("/api/v1/cylinders/{serial}/verdict", path)).data);
  same(must(verdict.identity.candidates[0]).designation, "R-22");
  same(must((await client.GET("/api/v1/cylinders/{serial}", path)).data).epoch, 1);

  const asked = { body: { pairs: [{ temperature_c: 24.8, absolute_pressure_kpa: 1044 }] } };
  same(must((await client.POST("/api/v1/verdicts", asked)).data).model_version, "scripted");
  console.log("done");
}

const [url, token] = process.argv.slice(2);
story(must(url), must(token)).catch((fault: unknown) => {
  console.error(fault);
  process.exit(1);
});
