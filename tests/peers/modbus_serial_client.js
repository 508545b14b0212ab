// Asks with modbus-serial, a client that shares nothing with this project.
// usage: modbus_serial_client.js tcp PORT ASK...   or   rtu DEVICE ASK...
// ASK is UNIT:ADDRESS:COUNT (function 3), UNIT:ADDRESS=VALUE (6), UNIT:ADDRESS=VALUE,VALUE... (16), UNIT:identity (43/14).
// One line an answer: "registers 1 2 3", "written", "exception 2" or "identity maker|product|revision".
"use strict";
const ModbusRTU = require("modbus-serial");

async function answer(client, ask) {
    const [, unit, rest] = ask.match(/^(\d+):(.*)$/);
    client.setID(Number(unit));
    if (rest === "identity") {
        const { data } = await client.readDeviceIdentification(1, 0);
        return "identity " + Object.values(data).join("|");
    }
    if (rest.includes(":")) {
        const [address, count] = rest.split(":").map(Number);
        return "registers " + (await client.readHoldingRegisters(address, count)).data.join(" ");
    }
    const [address, list] = rest.split("=");
    const values = list.split(",").map(Number);
    if (values.length === 1) await client.writeRegister(Number(address), values[0]);
    else await client.writeRegisters(Number(address), values);
    return "written";
}

async function main() {
    const [way, where, ...asks] = process.argv.slice(2);
    const client = new ModbusRTU();
    client.setTimeout(10000);
    if (way === "tcp") await client.connectTCP("127.0.0.1", { port: Number(where) });
    else await client.connectRTUBuffered(where, { baudRate: 19200, parity: "none", stopBits: 2 });
    for (const ask of asks) {
        try {
            console.log(await answer(client, ask));
        } catch (error) {
            console.log(error.modbusCode === undefined ? "fault " + error.message : "exception " + error.modbusCode);
        }
    }
    client.close(() => process.exit(0));
}

main().catch((error) => {
    console.log("fault " + error.message);
    process.exit(1);
});
