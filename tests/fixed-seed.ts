import fc from "fast-check";

/** Generated cases are the same on every run, so that a green check stays green; `FAST_CHECK_SEED=…` looks elsewhere. */
fc.configureGlobal({ seed: Number(process.env.FAST_CHECK_SEED ?? 20_261_125) });
