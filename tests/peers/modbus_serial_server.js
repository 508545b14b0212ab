// A server of modbus-serial, which shares nothing with this project: `tcp` on a loopback port that the system chooses, or
// `rtu DEVICE`. Prints the port (or 1) when it listens, and serves until its standard input closes.
"use strict";
const ModbusRTU = require("modbus-serial");
const vector = require("./registers.js");

const [way, device] = process.argv.slice(2);
process.stdin.on("close", () => process.exit(0)).resume();
if (way === "tcp") {
    const server = new ModbusRTU.ServerTCP(vector, { host: "127.0.0.1", port: 0, unitID: 255 });
    server.on("initialized", () => console.log(server._server.address().port));
} else {
    const server = new ModbusRTU.ServerSerial(vector, { port: device, baudRate: 19200, parity: "none", stopBits: 2,
        unitID: 255, openCallback: (error) => console.log(error ? String(error) : 1) });
    server.on("error", () => {});
}
