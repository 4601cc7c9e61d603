// fhirclient's Client reads and writes the chart with defaults that are unsafe for us (it sends the token to any host
// a server names). We use the library for the handshake only, so its Client is reduced to the state it was given.
Object.defineProperty(exports, "__esModule", { value: true });
exports.default = class {
  constructor(_environment, state) {
    this.state = state;
  }
};
