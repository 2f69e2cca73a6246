"""Two CiA 402 drives on a CAN bus that is none: the packages canopen and python-can behind a pair of pseudo-terminals.

Nothing of Cueloom is in here: objects, network management, signs of life and emergencies are those of `canopen`, lines
on the wire those of python-can's slcan driver, state codes those of `canopen.profiles.p402`. Orders are read by the
mapping that was written, whatever it is.

    can_nodes.py --truth FILE [--reference homing] [--wrong product|serial] [--no-watchdog]

Prints `pty PATH` for the program's end. Words on standard input change the world: `presence 1`, `gate 0`, `mute 2`,
`deaf 1`, `emergency 1 0x3210`, `fault 2` (an emergency, whichever), `mode 1 1`, `leave 2`, `boot 1`, `far 1` (statusword
bit 13), `snag 1 900` (N), `push 1 5000` (micrometres at once, brake or not), `stuck 2` (the contacts of its brake change
no more), `double 1` (reports come twice), `nohome 1`, `late 400` (ms, all that the program sends), `garbage 1`, `unplug`
(the adapter is gone), `clear`, `quit`.

A leg with neither torque nor brake falls. A drive that is told to disable operation, or stops by itself, comes to rest,
closes its brake and then takes its torque away; one that is told to take its voltage away does so at once.

Rows of the truth: microseconds, words heard, SYNCs that came within half a period of the one before, torque on any leg,
brakes on all, warning, micrometres that a leg fell at most, and length and speed of each.
"""

import argparse
import os
import pty
import select
import struct
import sys
import threading
import time
import tty
from collections import deque

import can
import canopen
from canopen.objectdictionary import ODRecord, ODVariable, ObjectDictionary, datatypes
from canopen.profiles.p402 import State402

COUNTS_PER_M = 10_000 / 0.005
ZERO_M = 0.430
PARK_M = 0.540
RAMP_M_S2 = 3.0
FALL_M_S2 = 3.0
BRAKE_S = 0.06
HOMING_M_S, HOMING_S = -0.010, 2.0
NAMES = {"presence": 16, "gate": 17, "mat": 18, "belt": 19, "stop": 20}
SET, RELEASED = 21, 22

U8, U16, U32 = datatypes.UNSIGNED8, datatypes.UNSIGNED16, datatypes.UNSIGNED32
I8, I16, I32 = datatypes.INTEGER8, datatypes.INTEGER16, datatypes.INTEGER32


def dictionary(serial, product, watchdog):
    od = ObjectDictionary()

    def single(index, kind, value, access="rw"):
        entry = ODVariable(f"o{index:x}", index, 0)
        entry.data_type, entry.default, entry.access_type = kind, value, access
        od.add_object(entry)

    def record(index, *kinds):
        group = ODRecord(f"o{index:x}", index)
        for sub, (kind, value) in enumerate(kinds):
            entry = ODVariable(f"o{index:x}_{sub}", index, sub)
            entry.data_type, entry.default, entry.access_type = kind, value, "rw"
            group.add_member(entry)
        od.add_object(group)

    single(0x1000, U32, 0x0002_0192, "ro")
    record(0x1018, (U8, 4), (U32, 0x9A), (U32, product), (U32, 0x0001_0002), (U32, serial))
    single(0x1017, U16, 0)
    if watchdog:
        record(0x1016, (U8, 1), (U32, 0))
        record(0x1400, (U8, 5), (U32, 0x200), (U8, 255), (U16, 0), (U8, 0), (U16, 0))
    else:
        record(0x1400, (U8, 2), (U32, 0x200), (U8, 255))
    record(0x1600, (U8, 0), *[(U32, 0)] * 8)
    for index in (0x1800, 0x1801, 0x1802):
        record(index, (U8, 5), (U32, 0xC000_0000), (U8, 255), (U16, 0), (U8, 0), (U16, 0))
        record(index + 0x200, (U8, 0), *[(U32, 0)] * 8)
    single(0x6007, I16, 0)
    single(0x603F, U16, 0)
    single(0x6040, U16, 0)
    single(0x6041, U16, 0, "ro")
    single(0x605A, I16, 2)
    single(0x605C, I16, 1)
    single(0x605E, I16, 2)
    single(0x6084, U32, 6_000_000)
    single(0x6060, I8, 0)
    single(0x6061, I8, 0, "ro")
    single(0x6064, I32, 0, "ro")
    single(0x6065, U32, 0)
    single(0x6072, U16, 0)
    single(0x6076, U32, 640, "ro")
    single(0x6077, I16, 0, "ro")
    single(0x607A, I32, 0)
    single(0x6098, I8, 0)
    record(0x60C1, (U8, 1), (I32, 0))
    record(0x60C2, (U8, 2), (U8, 1), (I8, -3))
    single(0x60FD, U32, 0, "ro")
    record(0x60FE, (U8, 2), (U32, 0), (U32, 0))
    single(0x6502, U32, 0x20 | 0x40 | 0x80, "ro")
    return od


SIZES = {8: 1, 16: 2, 32: 4}
# Which object a mode takes its set-points from; others mean nothing to it.
TARGETS = {7: (0x60C1, 1), 8: (0x607A, 0)}


class Drive:
    def __init__(self, network, node, serial, sign, options):
        self.sign, self.options = sign, options
        product = 0xBAD if options.wrong == "product" and node == 2 else 0xC0DE
        od = dictionary(serial, product, not options.no_watchdog)
        self.node = network.add_node(canopen.LocalNode(node, od))
        self.network, self.id = network, node
        self.at_m, self.speed, self.offset = PARK_M, 0.0, 0
        if options.reference == "homing":
            self.offset = self.counts(self.at_m)
        self.state, self.word, self.mode, self.shown = "SWITCH ON DISABLED", 0, 0, 0
        self.target = self.position()
        self.pending, self.maps, self.syncs = None, None, 0
        self.brake_at, self.closes, self.braked = None, True, True
        self.leaving, self.fell_m = None, 0.0
        self.clear()
        self.order_at = self.life_at = None
        self.homing_at, self.homed = None, False
        self.inputs = 0
        self.warning = False
        network.subscribe(0x200 + node, self.on_order)
        self.node.add_read_callback(self.on_read)
        self.node.add_write_callback(self.on_write)
        self.node.nmt.state = "INITIALISING"
        self.node.nmt.state = "PRE-OPERATIONAL"

    def clear(self):
        self.mute = self.deaf = self.far = self.no_home = False
        self.snag_n, self.stuck, self.copies = 0.0, None, 1

    def counts(self, at_m):
        return round((at_m - ZERO_M) * COUNTS_PER_M) * self.sign

    def position(self):
        return self.counts(self.at_m) - self.offset

    def get(self, index, sub=0):
        entry = self.node.object_dictionary[index]
        entry = entry if isinstance(entry, ODVariable) else entry[sub]
        return entry.decode_raw(self.node.get_data(index, sub))

    def status(self):
        status = State402.SW_MASK[self.state][1] | 0x0210
        if self.state == "OPERATION ENABLED":
            if self.shown == 8 or (self.shown == 7 and self.word & 0x10):
                status |= 0x1000
            if self.shown == 8 and self.far:
                status |= 0x2000
            if self.shown == 6:
                status |= 0x1400 if self.homed else 0x0000 if self.homing_at else 0x0400
                status |= 0x2000 if self.no_home and not self.homing_at else 0
        return status

    def contacts(self):
        if self.brake_at is not None:
            return 0
        return 1 << SET if self.braked else 1 << RELEASED

    def all_inputs(self):
        return self.inputs | (self.contacts() if self.stuck is None else self.stuck)

    def torque(self):
        force_n = 0 if self.braked else -27.0 - self.snag_n
        return round(force_n * 0.005 / 6.283185307 / 0.64 * 1000) * self.sign

    def on_read(self, index, subindex, od, **_):
        live = {0x6041: self.status, 0x6061: lambda: self.shown, 0x6064: self.position}
        live |= {0x6077: self.torque, 0x60FD: self.all_inputs}
        return live[index]() if index in live else None

    def on_write(self, index, subindex, od, data, **_):
        value = od.decode_raw(data)
        if index == 0x6040:
            self.command(value)
        elif index == 0x6060:
            self.mode = self.shown = value
        elif index == 0x60FE and subindex == 1:
            self.warning = value != 0

    def on_order(self, _id, data, _time):
        if not self.deaf and not self.mute:
            self.pending, self.order_at = bytes(data), time.monotonic()

    def on_life(self, _id, data, _time):
        if not self.deaf:
            self.life_at = time.monotonic()

    def mapped(self, index):
        return [self.get(index, sub + 1) for sub in range(self.get(index, 0))]

    def take(self, data):
        at = 0
        for entry in self.maps[0]:
            size = SIZES[entry & 0xFF]
            part, at = data[at : at + size], at + size
            index, sub = entry >> 16, entry >> 8 & 0xFF
            if index == 0x6040:
                self.command(struct.unpack("<H", part)[0])
            elif (index, sub) == TARGETS.get(self.shown):
                self.target = struct.unpack("<i", part)[0]

    def command(self, word):
        before, self.word = self.word, word
        bits, state = word & 0x8F, self.state
        if state == "FAULT":
            if word & 0x80 and not before & 0x80:
                self.state = "SWITCH ON DISABLED"
                self.node.emcy.reset()
            return
        if state == "FAULT REACTION ACTIVE":
            return
        if state == "QUICK STOP ACTIVE" and bits & 0x02:
            return
        if not bits & 0x02:
            self.go("SWITCH ON DISABLED")
        elif not bits & 0x04:
            if state == "OPERATION ENABLED":
                self.state, self.leaving = "QUICK STOP ACTIVE", "SWITCH ON DISABLED"
            else:
                self.go("SWITCH ON DISABLED")
        else:
            wanted = {0x06: 0, 0x07: 1, 0x0F: 2}.get(bits & 0x0F, 0)
            ladder = ["READY TO SWITCH ON", "SWITCHED ON", "OPERATION ENABLED"]
            if state == "SWITCH ON DISABLED":
                if wanted == 0:
                    self.go(ladder[0])
            elif state == "OPERATION ENABLED" and wanted == 1:
                self.leaving = "SWITCHED ON"
            elif not self.leaving or wanted == 0:
                # Up one step at a time, down at once.
                self.go(ladder[min(ladder.index(state) + 1, wanted)])
        starts = word & 0x10 and not before & 0x10
        if self.mode == 6 and self.state == "OPERATION ENABLED" and starts:
            self.homing_at, self.homed = time.monotonic() + HOMING_S, False
        if not word & 0x10 and self.homing_at:
            self.homing_at = None

    def go(self, new):
        """At once: what had torque has none any more, and what gets it opens its brake."""
        had, has = self.holds(), new == "OPERATION ENABLED"
        self.state, self.leaving = new, None
        if has and not had:
            self.target, self.speed = self.position(), 0.0
        if has != had:
            self.brake_at, self.closes = time.monotonic() + BRAKE_S, not has

    def holds(self):
        return self.state in ("OPERATION ENABLED", "QUICK STOP ACTIVE", "FAULT REACTION ACTIVE")

    def fault(self, code, quietly=False):
        if self.state in ("FAULT", "FAULT REACTION ACTIVE"):
            return
        if self.holds():
            self.state, self.leaving = "FAULT REACTION ACTIVE", "FAULT"
        else:
            self.state = "FAULT"
        if not quietly and not self.mute:
            self.node.emcy.send(code)

    def move(self, to_m, period):
        self.speed = (to_m - self.at_m) / period
        self.at_m = to_m

    def glide(self, wanted, step):
        most = RAMP_M_S2 * step
        self.speed += min(max(wanted - self.speed, -most), most)
        self.at_m += self.speed * step

    def to_rest(self, now, step):
        """Rest, then the brake, then no torque."""
        if self.brake_at is not None and not self.closes:
            self.brake_at = None
        self.glide(0.0, step)
        if self.speed != 0.0:
            return
        if self.braked and self.brake_at is None:
            self.state, self.leaving = self.leaving, None
        elif self.brake_at is None:
            self.brake_at, self.closes = now + BRAKE_S, True

    def on_sync(self, period):
        if self.node.nmt.state != "OPERATIONAL":
            self.maps = None
            return
        if self.maps is None:
            self.maps = [self.mapped(0x1600), self.mapped(0x1A00), self.mapped(0x1A01)]
            self.every = [self.get(0x1800, 2), self.get(0x1801, 2)]
        if self.deaf or self.mute:
            return
        leads = self.shown == 8 or self.shown == 7 and self.word & 0x10
        if self.state == "OPERATION ENABLED" and leads and not self.leaving:
            # A cycle later it is where it was told to be.
            goal = ((self.target + self.offset) * self.sign) / COUNTS_PER_M + ZERO_M
            self.move(goal, period)
        if self.pending is not None:
            pending, self.pending = self.pending, None
            self.take(pending)
        self.syncs += 1
        for base, objects, every in zip((0x180, 0x280), self.maps[1:], self.every):
            if self.syncs % every == 0:
                parts = [self.node.get_data(entry >> 16, entry >> 8 & 0xFF) for entry in objects]
                for _ in range(self.copies):
                    self.network.send_message(base + self.id, b"".join(parts))

    def tick(self, now, step):
        if self.brake_at is not None and now >= self.brake_at:
            self.brake_at, self.braked = None, self.closes
        if self.homing_at and now >= self.homing_at:
            self.homing_at = None
            if not self.no_home:
                self.homed, self.offset = True, 0
            self.target = self.position()
        if self.braked:
            self.speed = 0.0
        if self.leaving:
            self.to_rest(now, step)
        elif self.state == "OPERATION ENABLED" and self.shown == 6 and not self.braked:
            self.glide(HOMING_M_S if self.homing_at and not self.word & 0x100 else 0.0, step)
        elif not self.holds() and not self.braked:
            self.speed -= FALL_M_S2 * step
            self.at_m += self.speed * step
            self.fell_m += abs(self.speed) * step
        if self.node.nmt.state != "OPERATIONAL" or self.options.no_watchdog:
            self.order_at = None
            return
        orders, life = self.get(0x1400, 5) / 1e3, (self.get(0x1016, 1) & 0xFFFF) / 1e3
        if orders and self.order_at and now - self.order_at > orders:
            self.fault(0x8250)
            self.order_at = None
        if life and self.life_at and now - self.life_at > life and self.get(0x6007) == 1:
            self.fault(0x8130)
            self.life_at = None


class World:
    def __init__(self, options):
        self.options, self.words, self.period = options, 0, 0.005
        self.hurried, self.synced = 0, 0.0
        self.done = threading.Event()
        near, far = pty.openpty(), pty.openpty()
        for _, slave in (near, far):
            tty.setraw(slave)
        print("pty", os.ttyname(near[1]), flush=True)
        told, self.tells = os.pipe()
        child = os.fork()
        if child == 0:
            bridge(near[0], far[0], told)
        self.child = child
        os.close(near[0])
        slcan = can.Bus(interface="slcan", channel=os.ttyname(far[1]), bitrate=1_000_000, sleep_after_open=0)
        self.bus = slcan
        self.network = canopen.Network(slcan)
        self.network.NOTIFIER_CYCLE = 0.05
        self.network.connect()
        serial = 2000 if options.wrong == "serial" else 1000
        self.drives = [
            Drive(self.network, 1, serial, 1, options),
            Drive(self.network, 2, serial + 1, -1, options),
        ]
        self.truth = open(options.truth, "w", buffering=1 << 16)
        self.began, self.last = time.monotonic(), time.monotonic()
        self.lock = threading.RLock()
        self.network.subscribe(0x080, self.on_sync)
        for drive in self.drives:
            self.network.subscribe(0x77F, drive.on_life)

    def on_sync(self, _id, _data, came):
        with self.lock:
            self.hurried += came - self.synced < self.period / 2
            self.synced = came
            first = self.drives[0]
            count, power = first.get(0x60C2, 1), first.get(0x60C2, 2)
            self.period = count * 10.0**power
            for drive in self.drives:
                drive.on_sync(self.period)
            self.row()

    def row(self):
        drives = self.drives
        fields = [
            round((time.monotonic() - self.began) * 1e6),
            self.words,
            self.hurried,
            int(any(drive.state == "OPERATION ENABLED" for drive in drives)),
            int(all(drive.braked for drive in drives)),
            int(any(drive.warning for drive in drives)),
            round(max(drive.fell_m for drive in drives) * 1e6),
            *[value for drive in drives for value in (drive.at_m, drive.speed)],
        ]
        self.last = time.monotonic()
        print(*fields, sep=",", file=self.truth)

    def run(self):
        threading.Thread(target=self.listen, daemon=True).start()
        before = time.monotonic()
        while not self.done.wait(0.004):
            with self.lock:
                now = time.monotonic()
                for drive in self.drives:
                    drive.tick(now, now - before)
                before = now
                if now - self.last > 0.02:
                    # Nobody leads: a drive that still has torque stands at its last set-point.
                    for drive in self.drives:
                        if drive.state == "OPERATION ENABLED" and drive.shown != 6 and not drive.leaving:
                            drive.speed = 0.0
                    self.row()
        self.truth.close()
        os.kill(self.child, 9)
        os._exit(0)

    def listen(self):
        for line in sys.stdin:
            with self.lock:
                self.words += 1
                self.hear(line.split())
        self.done.set()

    def hear(self, words):
        if words[0] in NAMES:
            first, bit = self.drives[0], 1 << NAMES[words[0]]
            first.inputs = first.inputs | bit if words[1] == "1" else first.inputs & ~bit
        elif words[0] == "quit":
            self.done.set()
        elif words[0] == "garbage":
            # What a bad contact makes of lines: halves, strays, and a frame that says nothing true.
            self.bus.serialPortOrig.write(b"t18173\rt18G7\r\x07\xff\xfe\rt9991AA\rt1817" + b"A" * 60 + b"\r")
        elif words[0] in ("late", "unplug"):
            os.write(self.tells, f"{words[-1]}\n".encode())
        elif words[0] == "clear":
            os.write(self.tells, b"0\n")
            for drive in self.drives:
                drive.clear()
        else:
            drive = self.drives[int(words[1]) - 1]
            if words[0] == "mute":
                drive.mute = True
                drive.node.nmt.stop_heartbeat()
                drive.fault(0, quietly=True)
            elif words[0] == "deaf":
                drive.deaf = True
            elif words[0] == "emergency":
                drive.fault(int(words[2], 0))
            elif words[0] == "fault":
                drive.fault(0x3210)
            elif words[0] == "mode":
                drive.shown = int(words[2])
            elif words[0] == "leave":
                drive.state, drive.leaving = "QUICK STOP ACTIVE", "SWITCH ON DISABLED"
            elif words[0] == "far":
                drive.far = True
            elif words[0] == "snag":
                drive.snag_n = float(words[2])
            elif words[0] == "push":
                drive.at_m += float(words[2]) * 1e-6
            elif words[0] == "double":
                drive.copies = 2
            elif words[0] == "stuck":
                drive.stuck = drive.contacts()
            elif words[0] == "nohome":
                drive.no_home = True
            elif words[0] == "boot":
                drive.node.nmt.state = "INITIALISING"
                drive.node.nmt.state = "PRE-OPERATIONAL"
                drive.fault(0, quietly=True)


def bridge(program, bus, told):
    """The adapter and the bus: whatever goes in at one end comes out at the other, what the program sends as late as is told."""
    parent, late_s, waiting = os.getppid(), 0.0, deque()
    while os.getppid() == parent:
        now = time.monotonic()
        while waiting and now >= waiting[0][0]:
            os.write(bus, waiting.popleft()[1])
        rest_s = min(waiting[0][0] - now, 0.5) if waiting else 0.5
        ready, _, _ = select.select([end for end in (program, bus, told) if end is not None], [], [], rest_s)
        for end in ready:
            try:
                data = os.read(end, 4096)
            except OSError:
                # Nobody has the terminal open just now.
                time.sleep(0.01)
                continue
            if end == told:
                word = data.split()[-1]
                if word == b"unplug":
                    os.close(program)
                    program = None
                else:
                    late_s = float(word) / 1000
            elif end == program:
                waiting.append((time.monotonic() + late_s, data))
            elif program is not None:
                try:
                    os.write(program, data)
                except OSError:
                    time.sleep(0.01)
    os._exit(0)


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--truth", required=True)
    options.add_argument("--reference", default="absolute")
    options.add_argument("--wrong", default="")
    options.add_argument("--no-watchdog", action="store_true")
    sys.setswitchinterval(0.0005)
    world = World(options.parse_args())
    for name in ("gate", "mat", "belt", "stop"):
        world.hear([name, "1"])
    world.run()


if __name__ == "__main__":
    main()
