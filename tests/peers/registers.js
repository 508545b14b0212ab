// What the peer's servers hold: the registers of the standard's examples (MODBUS Application Protocol V1.1b3, clauses 6.3
// and 6.4), writable, the same for the units 1 and 2 apart from register 0, which holds the unit.
"use strict";

function vectorOf(tables) {
    function value(table, address, unit) {
        if (tables[unit] === undefined) throw Object.assign(new Error("no unit"), { modbusErrorCode: 0x0b });
        if (tables[unit][table][address] === undefined)
            throw Object.assign(new Error("no register"), { modbusErrorCode: 0x02 });
        return tables[unit][table][address];
    }
    return {
        getHoldingRegister: (address, unit) => value("holding", address, unit),
        getInputRegister: (address, unit) => value("input", address, unit),
        setRegister: (address, written, unit) => {
            value("holding", address, unit);
            tables[unit].holding[address] = written;
        },
        readDeviceIdentification: () => ({ 0: "Oakenmere", 1: "OK-3", 2: "V1.0" }),
    };
}

function unit(number) {
    return { holding: { 0: number, 1: 0, 2: 0, 107: 555, 108: 0, 109: 100 }, input: { 8: 10 } };
}

module.exports = vectorOf({ 1: unit(1), 2: unit(2) });
