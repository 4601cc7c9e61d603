// fhirclient asks for this package only where the platform lacks WebCrypto. Every browser and Node we support has it,
// and the original pulls in a mobile toolchain of some 280 packages.
module.exports = { default: globalThis.crypto };
