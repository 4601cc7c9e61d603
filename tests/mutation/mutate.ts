/** `npm run mutate`: plants faults in the program and sees whether the tests notice; `--help` tells how. */
import { readOptions } from "./options.ts";

const asked = readOptions(process.argv.slice(2));
const { plant } = await (asked.room === "writing" ? import("./writing-room.ts") : import("./rules-room.ts"));
process.exitCode = (await plant(asked)) ? 0 : 1;
