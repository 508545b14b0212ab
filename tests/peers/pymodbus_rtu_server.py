"""A Modbus RTU server of pymodbus, which shares nothing with this project, for the units 1 and 2 of one serial line.

usage: pymodbus_rtu_server.py DEVICE    prints 1 when it listens, serves until its standard input closes.
Registers as in registers.js; any other unit stays silent.
"""
import asyncio
import logging
import sys

from pymodbus.datastore import ModbusServerContext, ModbusSlaveContext, ModbusSparseDataBlock
from pymodbus.device import ModbusDeviceIdentification
from pymodbus.server import StartAsyncSerialServer
from pymodbus.transaction import ModbusRtuFramer

logging.disable(logging.CRITICAL)  # what is refused on purpose need not be told on the terminal


def unit(number):
    holding = {0: number, 1: 0, 2: 0, 107: 555, 108: 0, 109: 100}
    return ModbusSlaveContext(hr=ModbusSparseDataBlock(holding), ir=ModbusSparseDataBlock({8: 10}), zero_mode=True)


async def main():
    who = ModbusDeviceIdentification(
        info_name={"VendorName": "Oakenmere", "ProductCode": "OK-3", "MajorMinorRevision": "V1.0"}
    )
    server = await StartAsyncSerialServer(
        ModbusServerContext(single=False, slaves={1: unit(1), 2: unit(2)}), identity=who, framer=ModbusRtuFramer,
        port=sys.argv[1], baudrate=19200, parity="N", stopbits=2, ignore_missing_slaves=True, defer_start=True,
    )
    await server.start()
    serving = asyncio.create_task(server.serve_forever())
    await asyncio.sleep(0.1)
    print(1, flush=True)
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    serving.cancel()


asyncio.run(main())
