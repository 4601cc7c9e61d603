/** Version of the program (the clinical knowledge has its own); a test holds it equal to package.json. */
export const APP_VERSION = "0.1.0";
