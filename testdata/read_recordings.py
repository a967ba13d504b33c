#!/usr/bin/env python3
"""A second reader of test recordings: EDF, EDF+, BDF and WFDB formats 16 and 212.

It shares no code with the program and uses the standard library only. It was written from the
published layouts alone: edfplus.info/specs/edf.html and edfplus.html, wfdb.io/spec/header-files.html
and wfdb.io/spec/signal-files.html. It repairs nothing: it takes the samples as they lie in the file.

    read_recordings.py FILE...        one JSON object a line: signals with their sums, events, gaps
    read_recordings.py --png FILE     one JSON object: size, scale and pixels of a strip
"""
import hashlib
import json
import os
import struct
import sys
import zlib
from fractions import Fraction


class Refused(Exception):
    pass


def text(b):
    b = b.split(b"\0")[0]
    try:
        return b.decode("utf-8").strip()
    except UnicodeDecodeError:
        return b.decode("latin-1").strip()


def number(b):
    return Fraction(text(b).replace(",", "."))


def told(signal):
    """What is compared: nothing of it depends on how numbers are rounded on the way."""
    d = signal.pop("digital")
    signal["n"] = len(d)
    signal["sum"], signal["min"], signal["max"] = sum(d), min(d), max(d)
    signal["sha256"] = hashlib.sha256(struct.pack("<%di" % len(d), *d)).hexdigest()
    scale = signal.pop("scale")
    if scale:
        signal["low"] = float(scale(min(d)))
        signal["high"] = float(scale(max(d)))
    return signal


def scale_of(pmin, pmax, dmin, dmax):
    if dmin == dmax or pmin == pmax:
        return None
    return lambda d: (d - dmin) * (pmax - pmin) / (dmax - dmin) + pmin


def edf(b):
    if b[:8] == b"0       ":
        width, marks = 2, "EDF Annotations"
    elif b[:8] == b"\xffBIOSEMI":
        width, marks = 3, "BDF Annotations"
    else:
        raise Refused("neither EDF nor BDF")
    count = int(text(b[252:256]))
    if not 1 <= count <= 64:
        raise Refused("number of signals")
    fields, at = {}, 256
    for name, size in (("label", 16), ("transducer", 80), ("unit", 8), ("pmin", 8), ("pmax", 8),
                       ("dmin", 8), ("dmax", 8), ("filter", 80), ("samples", 8), ("reserved", 32)):
        fields[name] = [b[at + i * size:at + (i + 1) * size] for i in range(count)]
        at += count * size
    per = [int(text(x)) for x in fields["samples"]]
    if min(per) < 1:
        raise Refused("samples per record")
    seconds, size = number(b[244:252]), width * sum(per)
    promised, there = int(text(b[236:244])), (len(b) - at) // size
    records = min(promised, there) if promised > 0 else there
    if records < 1:
        raise Refused("no record")
    digital, marked = [[] for _ in per], []
    for r in range(records):
        place = at + r * size
        first = True
        for i, n in enumerate(per):
            part = b[place:place + n * width]
            place += n * width
            if text(fields["label"][i]) == marks:
                marked.append((r, first, part))
                first = False
            else:
                digital[i] += [int.from_bytes(part[k:k + width], "little", signed=True)
                               for k in range(0, len(part), width)]
    events, gaps = annotations(marked, seconds)
    signals = []
    for i, n in enumerate(per):
        if text(fields["label"][i]) != marks:
            signals.append(told({
                "label": text(fields["label"][i]), "unit": text(fields["unit"][i]),
                "rate": float(n / seconds) if seconds else 0.0, "digital": digital[i],
                "scale": scale_of(*(number(fields[x][i]) for x in ("pmin", "pmax", "dmin", "dmax")))}))
    return {"records": records, "signals": signals, "events": events, "gaps": gaps}


def annotations(marked, seconds):
    events, gaps, begun, expected = [], [], None, None
    for record, first, part in marked:
        for k, one in enumerate(x for x in part.split(b"\0") if x):
            stamp, *texts = one.split(b"\x14")
            onset, _, duration = stamp.partition(b"\x15")
            onset = Fraction(onset.decode("ascii"))
            if first and k == 0:
                if begun is None:
                    begun = expected = onset
                if onset != expected:
                    gaps.append([float(expected - begun), float(onset - expected)])
                expected = onset + seconds
                texts = texts[1:]
            for t in texts:
                if t:
                    events.append([float(onset - begun), float(duration) if duration else None,
                                   t.decode("utf-8")])
    return events, gaps


def wfdb(path):
    with open(path, encoding="ascii") as f:
        lines = [x.split() for x in f if x.strip() and not x.startswith("#")]
    record, rows = lines[0], lines[1:]
    count, rate = int(record[1]), float(record[2]) if len(record) > 2 else 250.0
    promised = int(record[3]) if len(record) > 3 else 0
    with open(os.path.join(os.path.dirname(path), rows[0][0]), "rb") as f:
        b = f.read()
    if rows[0][1] == "16":
        flat = list(struct.unpack("<%dh" % (len(b) // 2), b[:len(b) // 2 * 2]))
    elif rows[0][1] == "212":
        flat = []
        for k in range(0, len(b) - 1, 3):
            flat.append(b[k] | (b[k + 1] & 0x0F) << 8)
            if k + 2 < len(b):
                flat.append(b[k + 2] | (b[k + 1] & 0xF0) << 4)
        flat = [x - 4096 if x > 2047 else x for x in flat]
    else:
        raise Refused("format")
    n = len(flat) // count
    n = min(n, promised) if promised else n
    signals = []
    for i, row in enumerate(rows[:count]):
        gain, _, unit = row[2].partition("/")
        gain, _, base = gain.partition("(")
        zero = int(base.rstrip(")")) if base else int(row[4])
        g, z = Fraction(gain), zero
        s = told({"label": " ".join(row[8:]), "unit": unit or "mV", "rate": rate,
                  "digital": flat[i::count][:n], "scale": lambda d, g=g, z=z: (d - z) / g})
        if (s["sum"] - int(row[6])) % 65536:
            raise Refused("checksum")
        signals.append(s)
    return {"records": 0, "signals": signals, "events": [], "gaps": []}


def png(path):
    with open(path, "rb") as f:
        b = f.read()
    if b[:8] != b"\x89PNG\r\n\x1a\n":
        raise Refused("no PNG")
    at, data, out = 8, b"", {"order": []}
    while at < len(b):
        size, name = struct.unpack(">I4s", b[at:at + 8])
        body = b[at + 8:at + 8 + size]
        if zlib.crc32(name + body) != struct.unpack(">I", b[at + 8 + size:at + 12 + size])[0]:
            raise Refused("sum of " + name.decode())
        at += 12 + size
        out["order"].append(name.decode())
        if name == b"IHDR":
            out["width"], out["height"], depth, kind = struct.unpack(">IIBB", body[:10])
            if kind != 3:
                raise Refused("no palette")
        elif name == b"pHYs":
            out["per_metre"] = list(struct.unpack(">IIB", body))
        elif name == b"PLTE":
            colours = [sum(body[k:k + 3]) for k in range(0, len(body), 3)]
        elif name == b"IDAT":
            data += body
    rows = unfilter(zlib.decompress(data), (out["width"] * depth + 7) // 8)
    dark = colours.index(min(colours))
    lines = []
    for row in rows:
        bits = "".join(format(x, "08b") for x in row)
        lines.append([int(bits[k * depth:(k + 1) * depth], 2) == dark for k in range(out["width"])])
    out["dark"] = sum(map(sum, lines))
    out["columns"] = hashlib.sha256(bytes(
        x for k in range(out["width"]) for x in struct.pack("<H", sum(r[k] for r in lines)))).hexdigest()
    return out


def unfilter(raw, width):
    """The five filters of the PNG specification, section 9.2; a step back is one byte here."""
    before, rows = bytes(width), []
    for at in range(0, len(raw), width + 1):
        kind, line = raw[at], bytearray(raw[at + 1:at + 1 + width])
        for i in range(width):
            left = line[i - 1] if i else 0
            up, corner = before[i], before[i - 1] if i else 0
            p = left + up - corner
            best = min((left, up, corner), key=lambda x: abs(p - x))
            line[i] = (line[i] + (0, left, up, (left + up) // 2, best)[kind]) & 255
        rows.append(bytes(line))
        before = rows[-1]
    return rows


def main(args):
    if args[:1] == ["--png"]:
        print(json.dumps(png(args[1])))
        return
    for path in args:
        try:
            if path.endswith(".hea"):
                got = wfdb(path)
            else:
                with open(path, "rb") as f:
                    got = edf(f.read())
        except Refused as e:
            got = {"refused": str(e)}
        print(json.dumps(dict(got, file=os.path.basename(path))))


if __name__ == "__main__":
    main(sys.argv[1:])
