"""A Modbus TCP server of pymodbus, which shares nothing with this project, on a loopback port that the system chooses.

Prints the port and serves until its standard input closes.
  unit 1  registers of the standard's examples (MODBUS Application Protocol V1.1b3, clauses 6.3 and 6.4), writable
  unit 2  a SunSpec wye meter, model 203 (offsets from the published model file), marker at 40000
  unit 3  the same in floating point, model 213, marker at 0
  unit 4  the numbers of profiles/wexby-w2.toml, laid out by pymodbus's own payload builder, low word first
Any other unit stays silent.
"""
import asyncio
import logging
import sys

from pymodbus.constants import Endian
from pymodbus.datastore import ModbusServerContext, ModbusSlaveContext, ModbusSparseDataBlock
from pymodbus.device import ModbusDeviceIdentification
from pymodbus.payload import BinaryPayloadBuilder
from pymodbus.server import StartAsyncTcpServer

logging.disable(logging.CRITICAL)  # what is refused on purpose need not be told on the terminal

VOLTS, AMPS = [231.0, 229.0, 232.0], [41.2, 38.7, 44.0]
WATTS, VARS = [8760.0, -8150.0, 9390.0], [3730.0, -3470.0, 3990.0]
LINES = [398.4, 399.2, 401.0]


def text(words, count):
    data = words.encode().ljust(2 * count, b"\0")
    return [data[at] * 256 + data[at + 1] for at in range(0, 2 * count, 2)]


def signed(number, scale):
    return round(number * 10**-scale) & 0xFFFF


def built(build, wordorder):
    builder = BinaryPayloadBuilder(byteorder=Endian.Big, wordorder=wordorder)
    build(builder)
    return builder.to_registers()


def device(base, model, length, points):
    registers = [0x5375, 0x6E53, 1, 66]
    registers += text("Tarnfell", 16) + text("T3", 16) + text("", 8) + text("1.0", 8) + text("TY-7", 16) + [2, 0x8000]
    start = len(registers)
    registers += [model, length] + [0] * length + [0xFFFF, 0]
    for offset, values in points.items():
        registers[start + offset : start + offset + len(values)] = values
    return {base + at: value for at, value in enumerate(registers)}


def integer_meter():
    missing = [0x8000]
    return device(40000, 203, 105, {
        2: [signed(sum(AMPS), -1)] + [signed(a, -1) for a in AMPS] + [signed(-1, 0)],
        7: missing + [signed(v, -1) for v in VOLTS],
        11: missing + [signed(v, -1) for v in LINES] + [signed(-1, 0)],
        16: [5000, signed(-2, 0)],
        18: [signed(sum(WATTS), 1)] + [signed(w, 1) for w in WATTS] + [1],
        23: missing * 5,
        28: [signed(sum(VARS), 1)] + [signed(q, 1) for q in VARS] + [1],
        33: missing * 5,
    })


def float_meter():
    def floats(*numbers):
        return built(lambda builder: [builder.add_32bit_float(n) for n in numbers], Endian.Big)

    missing = [0x7FC0, 0]
    return device(0, 213, 124, {
        2: missing + floats(*AMPS),
        10: missing + floats(*VOLTS),
        18: missing + floats(*LINES),
        26: floats(50.0),
        28: missing + floats(*WATTS),
        36: missing * 4,
        44: missing + floats(*VARS),
        52: missing * 4,
    })


def low_word_first():
    def longs(*numbers):
        return built(lambda builder: [builder.add_32bit_int(round(n)) for n in numbers], Endian.Little)

    runs = {
        600: text("Wexby", 6) + text("W2", 4) + text("1234", 5),
        640: [200, 50],
        644: [0x34],
        1810: longs(*[1000 * a for a in AMPS], 0x7FFFFFFF, 50000),
        1840: longs(*[100 * v for v in VOLTS], *[100 * v for v in LINES]),
        1870: longs(*[10 * w for w in WATTS], 10 * sum(WATTS)),
        1880: longs(*[-10 * q for q in VARS], -10 * sum(VARS)),
        1890: longs(9200, 9200, 9200),
    }
    return {start + at: value for start, values in runs.items() for at, value in enumerate(values)}


def unit(holding, inputs):
    return ModbusSlaveContext(
        hr=ModbusSparseDataBlock(holding), ir=ModbusSparseDataBlock(inputs), zero_mode=True
    )


async def main():
    context = ModbusServerContext(single=False, slaves={
        1: unit({1: 0, 2: 0, 107: 555, 108: 0, 109: 100}, {8: 10}),
        2: unit(integer_meter(), {0: 0}),
        3: unit(float_meter(), {0: 0}),
        4: unit(low_word_first(), {0: 0}),
    })
    who = ModbusDeviceIdentification(info_name={
        "VendorName": "Oakenmere", "ProductCode": "OK-3", "MajorMinorRevision": "V1.0",
    })
    server = await StartAsyncTcpServer(
        context, identity=who, address=("127.0.0.1", 0), defer_start=True, ignore_missing_slaves=True
    )
    serving = asyncio.create_task(server.serve_forever())
    await server.serving
    print(server.server.sockets[0].getsockname()[1], flush=True)
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    serving.cancel()


asyncio.run(main())
