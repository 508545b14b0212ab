"""Asks a Modbus TCP server with pymodbus, a client that shares nothing with this project.

usage: modbus_peer.py PORT ASK...    ASK is UNIT:ADDRESS:COUNT (function 3) or UNIT:identity (function 43/14)
One line an answer: "registers 1 2 3", "exception 2" or "identity maker|product|revision".
"""
import sys

from pymodbus.client import ModbusTcpClient
from pymodbus.mei_message import ReadDeviceInformationRequest


def main():
    client = ModbusTcpClient("127.0.0.1", port=int(sys.argv[1]), timeout=10)
    if not client.connect():
        sys.exit("no connection")
    for ask in sys.argv[2:]:
        unit, what = ask.split(":", 1)
        if what == "identity":
            answer = client.execute(ReadDeviceInformationRequest(read_code=1, unit=int(unit)))
        else:
            address, count = what.split(":")
            answer = client.read_holding_registers(int(address), int(count), slave=int(unit))
        if answer.isError():
            print("exception", answer.exception_code)
        elif what == "identity":
            print("identity", "|".join(answer.information[k].decode() for k in sorted(answer.information)))
        else:
            print("registers", *answer.registers)
    client.close()


main()
