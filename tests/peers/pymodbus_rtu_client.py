"""Asks over a serial line with pymodbus, a client that shares nothing with this project.

usage: pymodbus_rtu_client.py DEVICE ASK...    asks and answers as in modbus_serial_client.js
"""
import sys

from pymodbus.client import ModbusSerialClient
from pymodbus.mei_message import ReadDeviceInformationRequest


def ask_once(client, ask):
    unit, what = ask.split(":", 1)
    unit = int(unit)
    if what == "identity":
        return client.execute(ReadDeviceInformationRequest(read_code=1, unit=unit))
    if ":" in what:
        address, count = map(int, what.split(":"))
        return client.read_holding_registers(address, count, slave=unit)
    address, values = what.split("=")
    values = [int(value) for value in values.split(",")]
    if len(values) == 1:
        return client.write_register(int(address), values[0], slave=unit)
    return client.write_registers(int(address), values, slave=unit)


def main():
    client = ModbusSerialClient(sys.argv[1], baudrate=19200, parity="N", stopbits=2, timeout=10)
    if not client.connect():
        sys.exit("no connection")
    for ask in sys.argv[2:]:
        answer = ask_once(client, ask)
        if answer.isError():
            print("exception", getattr(answer, "exception_code", answer))
        elif hasattr(answer, "information"):
            print("identity", "|".join(answer.information[k].decode() for k in sorted(answer.information)))
        elif hasattr(answer, "registers") and ":" in ask.split(":", 1)[1]:
            print("registers", *answer.registers)
        else:
            print("written")
    client.close()


main()
