#!/usr/bin/env python3
"""Check an evidence file without the program that wrote it.

    python3 verify_evidence.py FILE [--key VKEY] [--checkpoint FILE]

Python 3.8 or later and its standard library; no network. The format is described at the top of
reprocess/ledger/evidence.go; this script was written from that description, shares no code with
the program, and its Ed25519 is the arithmetic of RFC 8032 section 5.1 in plain integers.

Answers 0 if everything agrees, 1 with one line if something differs, 2 if the file (or the key
or checkpoint beside it) cannot be read as such. The two CSV tables are held against their hash
in the manifest, but not computed again.
"""
import argparse
import base64
import binascii
import hashlib
import json
import re
import struct
import sys
import zlib

MEMBERS = ["CHECK.txt", "entries.ndjson", "entries.csv", "cycles.csv", "proof.txt",
           "rollcall.ndjson", "checkpoint.txt", "key.txt", "MANIFEST.txt"]
MAX_ENTRY = 65536
MAX_SMALL = 65536
MAX_INT = 2**53 - 1


class Difference(Exception):
    """Something does not agree: answer 1."""


class Unreadable(Exception):
    """This is not what it should be at all: answer 2."""


def need(condition, sentence):
    if not condition:
        raise Difference(sentence)


# ---- Ed25519, RFC 8032 section 5.1 ------------------------------------------------------------

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
SQRT_M1 = pow(2, (P - 1) // 4, P)


def add(a, b):
    """Sum of two points in extended coordinates (section 5.1.4)."""
    e1 = (a[1] - a[0]) * (b[1] - b[0]) % P
    e2 = (a[1] + a[0]) * (b[1] + b[0]) % P
    e3 = 2 * a[3] * b[3] * D % P
    e4 = 2 * a[2] * b[2] % P
    e, f, g, h = e2 - e1, e4 - e3, e4 + e3, e2 + e1
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def multiply(n, point):
    result = (0, 1, 1, 0)
    while n > 0:
        if n & 1:
            result = add(result, point)
        point = add(point, point)
        n >>= 1
    return result


def recover_x(y, sign):
    """Section 5.1.3; None if there is no such point."""
    if y >= P:
        return None
    x2 = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    if x2 == 0:
        return None if sign else 0
    x = pow(x2, (P + 3) // 8, P)
    if (x * x - x2) % P != 0:
        x = x * SQRT_M1 % P
    if (x * x - x2) % P != 0:
        return None
    return P - x if x & 1 != sign else x


BASE_Y = 4 * pow(5, P - 2, P) % P
BASE_X = recover_x(BASE_Y, 0)
BASE = (BASE_X, BASE_Y, 1, BASE_X * BASE_Y % P)


def decompress(data):
    y = int.from_bytes(data, "little")
    sign, y = y >> 255, y & ((1 << 255) - 1)
    x = recover_x(y, sign)
    return None if x is None else (x, y, 1, x * y % P)


def compress(point):
    inverse = pow(point[2], P - 2, P)
    x, y = point[0] * inverse % P, point[1] * inverse % P
    return (y | ((x & 1) << 255)).to_bytes(32, "little")


def ed25519_verify(public, message, signature):
    """Section 5.1.7: [S]B - [k]A must be R, byte for byte, and S below the order."""
    if len(public) != 32 or len(signature) != 64:
        return False
    a = decompress(public)
    s = int.from_bytes(signature[32:], "little")
    if a is None or s >= L:
        return False
    k = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little") % L
    minus_a = (P - a[0], a[1], a[2], P - a[3])
    return compress(add(multiply(s, BASE), multiply(k, minus_a))) == signature[:32]


# ---- small texts ------------------------------------------------------------------------------

def text_of(data, what):
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise Difference(what + " is not UTF-8")


def unbase64(s):
    """Bytes of strict base64 in its one spelling, or None."""
    try:
        raw = base64.b64decode(s, validate=True)
    except (binascii.Error, ValueError):
        return None
    return raw if base64.b64encode(raw).decode() == s else None


def number(s):
    return int(s) if re.fullmatch(r"0|[1-9][0-9]{0,15}", s, re.A) and int(s) <= MAX_INT else None


def unhex(s):
    return bytes.fromhex(s) if re.fullmatch(r"[0-9a-f]{64}", s, re.A) else None


def good_time(s):
    m = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)\.(\d{3})Z", s, re.A)
    if not m:
        return False
    year, month, day, hour, minute, second, _ = map(int, m.groups())
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    days = [31, 29 if leap else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    return 1 <= month <= 12 and 1 <= day <= days[month - 1] and hour < 24 and minute < 60 \
        and second < 60


def good_origin(s):
    return 0 < len(s.encode()) <= 100 and s.isprintable() and "+" not in s \
        and not re.search(r"\s", s)


class Key:
    """A public key: name+hash+base64, hash = SHA-256(name LF 01 key)[:4] in hex."""

    def __init__(self, vkey):
        parts = vkey.split("+", 2)
        raw = unbase64(parts[2]) if len(parts) == 3 else None
        if raw is None or len(raw) != 33 or raw[0] != 1 or not good_origin(parts[0]):
            raise ValueError("not a public key")
        self.vkey, self.name, self.public = vkey, parts[0], raw[1:]
        self.id = hashlib.sha256(self.name.encode() + b"\n" + raw).digest()[:4]
        if self.id.hex() != parts[1]:
            raise ValueError("not a public key")

    def open(self, message, what):
        """The text of a signed note with exactly one signature line, by this key."""
        need(len(message) <= MAX_SMALL, what + " is too long")
        text = text_of(message, what)
        at = text.rfind("\n\n")
        need(at >= 0, what + " is not a signed note")
        body, line = text[:at + 1], text[at + 2:]
        head = "\u2014 " + self.name + " "
        need(line.startswith(head) and line.endswith("\n") and line.count("\n") == 1,
             what + " is not signed by the key in key.txt, once")
        raw = unbase64(line[len(head):-1])
        need(raw is not None and len(raw) == 68 and raw[:4] == self.id,
             what + " is not signed by the key in key.txt")
        need(ed25519_verify(self.public, body.encode(), raw[4:]),
             "the signature of " + what + " does not match")
        return body


def parse_checkpoint(text, what):
    """(origin, size, root, time); five lines, each in its one spelling."""
    lines = text.split("\n")
    need(len(lines) == 6 and lines[5] == "", what + " has not five lines")
    size, root = number(lines[1]), unbase64(lines[2])
    need(good_origin(lines[0]) and size is not None and root is not None and len(root) == 32
         and lines[3].startswith("time ") and good_time(lines[3][5:])
         and lines[4].startswith("site ") and 0 < len(lines[4][5:].encode()) <= 100
         and lines[4][5:].isprintable() and lines[4][5:].strip() == lines[4][5:],
         what + " is not a checkpoint in its one spelling")
    return lines[0], size, root, lines[3][5:]


# ---- entry bytes ------------------------------------------------------------------------------

def pairs(items):
    result = dict(items)
    if len(result) != len(items) or not all(re.fullmatch("[a-z0-9_]{1,32}", k) for k, _ in items):
        raise ValueError("a name is doubled or not of a-z 0-9 _")
    return result


def whole(s):
    n = int(s)
    if abs(n) > MAX_INT:
        raise ValueError("a number is too large")
    return n


def refuse(_):
    raise ValueError("a number is not whole")


def walk(v, depth):
    if isinstance(v, str) and any(c < " " for c in v):
        raise ValueError("a text holds a control character")
    if isinstance(v, (dict, list)):
        if depth > 8:
            raise ValueError("nested too deep")
        for x in v.values() if isinstance(v, dict) else v:
            walk(x, depth + 1)


def parse_canonical(data):
    """The value of canonical bytes; ValueError if they are not."""
    if len(data) > MAX_ENTRY or data[:1] != b"{":
        raise ValueError("too long, or no {")
    s = data.decode("utf-8")
    try:
        v = json.loads(s, object_pairs_hook=pairs, parse_int=whole, parse_float=refuse,
                       parse_constant=refuse)
    except RecursionError:
        raise ValueError("nested too deep")
    walk(v, 1)
    if json.dumps(v, sort_keys=True, separators=(",", ":"), ensure_ascii=False) != s:
        raise ValueError("not in its one spelling")
    return v


def envelope(data):
    """(seq, kit, kit_seq, kit_prev, value) of an entry."""
    v = parse_canonical(data)
    plain = [v.get(k, "") for k in ("at", "kit", "kit_prev")]
    counts = [v[k] for k in ("seq", "kit_seq") if k in v]
    if not all(isinstance(s, str) and '"' not in s and "\\" not in s for s in plain) \
            or not all(type(n) is int and n > 0 for n in counts) or "seq" not in v \
            or not good_time(plain[0]):
        raise ValueError("seq, at or a device member is missing or wrong")
    kit, kit_seq, prev = plain[1], v.get("kit_seq", 0), v.get("kit_prev")
    if (kit != "") != (kit_seq > 0) or (kit_seq > 1) != (prev is not None) \
            or prev is not None and unhex(prev) is None:
        raise ValueError("kit, kit_seq and kit_prev do not go together")
    return v["seq"], kit, kit_seq, prev, v


# ---- the tree of RFC 6962 ---------------------------------------------------------------------

def leaf_hash(data):
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left, right):
    return hashlib.sha256(b"\x01" + left + right).digest()


class Tree:
    """Right edge of a growing tree: (level, hash) of its complete subtrees, largest first."""

    def __init__(self):
        self.size, self.edge = 0, []

    def add(self, level, h):
        need(self.size % (1 << level) == 0, "proof.txt has a subtree where none can begin")
        self.size += 1 << level
        while self.edge and self.edge[-1][0] == level:
            h = node_hash(self.edge.pop()[1], h)
            level += 1
        self.edge.append((level, h))

    def root(self):
        if not self.edge:
            return hashlib.sha256(b"").digest()
        h = self.edge[-1][1]
        for _, left in reversed(self.edge[:-1]):
            h = node_hash(left, h)
        return h


def tree_of(leaves):
    t = Tree()
    for h in leaves:
        t.add(0, h)
    return t.root()


def root_from_path(leaf, index, size, path):
    """Root by an audit path, RFC 9162 section 2.1.3.2; None if it does not fit."""
    if not 0 <= index < size:
        return None
    fn, sn, r = index, size - 1, leaf
    for p in path:
        if sn == 0:
            return None
        if fn & 1 or fn == sn:
            r = node_hash(p, r)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = node_hash(r, p)
        fn, sn = fn >> 1, sn >> 1
    return r if sn == 0 else None


# ---- the zip ----------------------------------------------------------------------------------

class Member:
    def __init__(self, file, name, crc, size, at):
        self.file, self.name, self.crc, self.size, self.at = file, name, crc, size, at

    def blocks(self):
        self.file.seek(self.at)
        left = self.size
        while left > 0:
            block = self.file.read(min(left, 1 << 20))
            need(block, "the file ends before its last member does")
            left -= len(block)
            yield block

    def lines(self, limit):
        """Lines without their LF."""
        rest = b""
        for block in self.blocks():
            parts = (rest + block).split(b"\n")
            rest = parts.pop()
            for part in parts:
                need(len(part) <= limit, self.name + " has a line that is too long")
                yield part
            need(len(rest) <= limit, self.name + " has a line that is too long")
        need(rest == b"", self.name + " does not end with a line end")

    def small(self):
        need(self.size <= MAX_SMALL, self.name + " is too long")
        return b"".join(self.blocks())


def common(m):
    return struct.pack("<HHHHLLLHH", 0, 0, 0, 33, m.crc, m.size, m.size, len(m.name), 0)


def members(file):
    """The nine members; every byte of headers and directory is printed again and compared."""
    file.seek(0, 2)
    end = file.tell()
    file.seek(0)
    first = file.read(4)
    file.seek(max(0, end - 22))
    last = file.read(4)
    if first != b"PK\x03\x04" and (end < 22 or last != b"PK\x05\x06"):
        raise Unreadable("this is not an evidence file")
    found, at, directory = {}, 0, b""
    for name in MEMBERS:
        file.seek(at)
        head = file.read(30 + len(name))
        need(len(head) == 30 + len(name), "the file ends before its last member does")
        crc, size = struct.unpack("<LL", head[14:22])
        m = Member(file, name, crc, size, at + len(head))
        need(head == b"PK\x03\x04" + struct.pack("<H", 20) + common(m) + name.encode(),
             "what stands before %s is not as an evidence file has it" % name)
        need(at < 1 << 32, "the file is too large")
        directory += b"PK\x01\x02" + struct.pack("<HH", 20 | 3 << 8, 20) + common(m) \
            + struct.pack("<HHHLL", 0, 0, 0, 0o100644 << 16, at) + name.encode()
        found[name] = m
        at = m.at + size
    directory += b"PK\x05\x06" + struct.pack("<HHHHLLH", 0, 0, len(MEMBERS), len(MEMBERS),
                                             len(directory), at % (1 << 32), 0)
    file.seek(min(at, end))
    need(file.read(len(directory) + 1) == directory, "the end of the file is not as it must be")
    return found


def sums(found):
    """SHA-256 of each member; the CRC-32 of the zip is held, too."""
    result = {}
    for name, m in found.items():
        crc, sha = 0, hashlib.sha256()
        for block in m.blocks():
            crc = zlib.crc32(block, crc)
            sha.update(block)
        need(crc == m.crc, name + " is damaged")
        result[name] = sha.hexdigest()
    need(found["CHECK.txt"].size <= MAX_SMALL, "CHECK.txt is too long")
    return result


# ---- the check --------------------------------------------------------------------------------

def check_manifest(text, found, hashes):
    """(origin, scope, entries)"""
    lines = text.split("\n")
    listed = MEMBERS[1:-1]
    need(len(lines) == 6 + len(listed) and lines[0] == "evidence 1" and lines[-1] == ""
         and [s.split(" ")[0] for s in lines[1:5]] == ["origin", "at", "scope", "entries"],
         "MANIFEST.txt is not a manifest of version 1")
    origin, at, scope, entries = [s.split(" ", 1)[1] if " " in s else "" for s in lines[1:5]]
    need(good_origin(origin) and good_time(at) and 0 < len(scope.encode()) <= 500
         and scope.isprintable() and (number(entries) or 0) > 0,
         "MANIFEST.txt is not in its one spelling")
    for name, line in zip(listed, lines[5:]):
        need(line == "%s %d %s" % (name, found[name].size, hashes[name]),
             name + " is not the one MANIFEST.txt lists")
    return origin, at, scope, int(entries)


class Check:
    def __init__(self, file, vkey=None, retained=None):
        found = members(file)
        hashes = sums(found)
        key_text = text_of(found["key.txt"].small(), "key.txt")
        try:
            need(key_text.endswith("\n"), "key.txt has no line end")
            self.key = Key(key_text[:-1])
        except ValueError:
            raise Difference("key.txt is not one public key and a line end")
        self.confirm(vkey)
        manifest = self.key.open(found["MANIFEST.txt"].small(), "MANIFEST.txt")
        origin, self.at, self.scope, self.expected = check_manifest(manifest, found, hashes)
        text = self.key.open(found["checkpoint.txt"].small(), "checkpoint.txt")
        self.origin, self.size, self.root, self.time = parse_checkpoint(text, "checkpoint.txt")
        need(self.origin == origin == self.key.name, "the members name different logs")
        self.keep(retained)
        self.whole = found["proof.txt"].size == 0
        self.line = self.read_roll_line(found["rollcall.ndjson"])
        self.called, self.heads, self.kit = None, {}, (0, b"")
        self.tree, self.proof = Tree(), found["proof.txt"].lines(100)
        self.count, self.first, self.last = 0, 0, 0
        for data in found["entries.ndjson"].lines(MAX_ENTRY):
            self.entry(data)
        self.finish()

    def confirm(self, vkey):
        self.confirmed = vkey is not None
        if vkey is not None:
            try:
                Key(vkey)
            except ValueError:
                raise Unreadable("the key you gave is not a public key")
            need(vkey == self.key.vkey, "the file is signed with another key than the one you gave")

    def keep(self, retained):
        self.retained, self.matched = None, False
        if retained is None:
            return
        what = "the checkpoint you kept"
        try:
            parse_checkpoint(retained.decode("utf-8").split("\n\n")[0] + "\n", what)
        except (Difference, UnicodeDecodeError):
            raise Unreadable(what + " is not a checkpoint")
        origin, size, root, time = parse_checkpoint(self.key.open(retained, what), what)
        need(origin == self.origin, what + " is of another log")
        need(size != self.size or root == self.root, what + " has another root")
        need(size <= self.size or time > self.time, "the log is shorter than in " + what)
        self.retained = (size, root)

    def read_roll_line(self, member):
        data = member.small()
        if not data:
            return None
        try:
            line = parse_canonical(data[:-1])
            good = data.endswith(b"\n") and sorted(line) == [
                "entry", "index", "kit", "kit_seq", "leaf", "path"] \
                and all(type(line[k]) is int for k in ("entry", "index", "kit_seq")) \
                and isinstance(line["kit"], str) and isinstance(line["leaf"], str) \
                and isinstance(line["path"], list) \
                and all(isinstance(h, str) for h in line["path"])
        except ValueError:
            good = False
        need(good, "rollcall.ndjson is not one line as the format has it")
        return line

    def entry(self, data):
        try:
            seq, kit, kit_seq, prev, value = envelope(data)
        except ValueError as e:
            raise Difference("the entry in line %d of entries.ndjson: %s" % (self.count + 1, e))
        need(self.tree.size < seq <= self.size, "entry %d: out of order" % seq)
        self.subtrees(seq - 1)
        self.roll_called(seq, value)
        leaf = leaf_hash(data)
        if kit:
            self.chain(seq, kit, kit_seq, prev, leaf)
        self.tree.add(0, leaf)
        self.compare_retained()
        self.count, self.first, self.last = self.count + 1, self.first or seq, seq

    def subtrees(self, to):
        while self.tree.size < to:
            try:
                text = next(self.proof).decode("ascii")
            except (StopIteration, UnicodeDecodeError):
                raise Difference("proof.txt does not say what stands at number %d"
                                 % (self.tree.size + 1))
            f = text.split(" ")
            first, count = (number(f[0]), number(f[1])) if len(f) == 3 else (None, None)
            need(first and count and count & (count - 1) == 0 and unhex(f[2]) is not None,
                 "proof.txt has a line that is not in its one spelling")
            need(first == self.tree.size + 1 and self.tree.size + count <= to,
                 "proof.txt has a line in the wrong place")
            self.tree.add(count.bit_length() - 1, unhex(f[2]))
            self.compare_retained()

    def compare_retained(self):
        if self.retained and self.tree.size == self.retained[0]:
            need(self.tree.root() == self.retained[1],
                 "the first %d entries are not those of the checkpoint you kept" % self.tree.size)
            self.matched = True

    def roll_called(self, seq, value):
        events = value.get("events")
        if value.get("result") != "done" or not isinstance(events, list):
            return
        calls = [e.get("data") for e in events if isinstance(e, dict)
                 and e.get("event") == "roll_called"]
        if not calls:
            return
        data = calls[0]
        need(isinstance(data, dict) and isinstance(data.get("root"), str)
             and unhex(data["root"]) is not None and type(data.get("kits", 0)) is int
             and data.get("kits", 0) >= 0, "entry %d: the roll call is not readable" % seq)
        if self.line and self.line["entry"] == seq:
            self.called = data
        if self.whole:
            leaves = [leaf_hash(head_body(k, *self.heads[k]))
                      for k in sorted(self.heads, key=lambda k: k.encode())]
            need(tree_of(leaves) == unhex(data["root"]) and data.get("kits", 0) == len(leaves),
                 "entry %d: its roll call is not what the entries before it give" % seq)

    def chain(self, seq, kit, kit_seq, prev, leaf):
        number_before, leaf_before = self.heads.get(kit, (0, b""))
        need(kit_seq > number_before and (kit_seq == number_before + 1 or not self.whole),
             "entry %d: it is number %d of device %s after %d" % (seq, kit_seq, kit, number_before))
        need(kit_seq != number_before + 1 or number_before == 0 or unhex(prev) == leaf_before,
             "entry %d: it does not quote the entry of device %s before it" % (seq, kit))
        self.heads[kit] = (kit_seq, leaf)
        if self.line and kit == self.line["kit"] and seq < self.line["entry"] \
                and kit_seq == self.kit[0] + 1:
            self.kit = (kit_seq, leaf)

    def finish(self):
        self.subtrees(self.size)
        need(next(self.proof, None) is None, "proof.txt has more lines than are left out")
        need(self.tree.root() == self.root, "the entries do not give the root in checkpoint.txt")
        need(self.count == self.expected, "MANIFEST.txt lists another number of entries")
        need(self.scope != "everything" or self.whole, "entries are left out of everything")
        if self.line is None:
            return
        line = self.line
        need(self.called is not None, "the roll call that rollcall.ndjson names is not there")
        path, leaf = [unhex(h) for h in line["path"]], unhex(line["leaf"])
        need(leaf is not None and None not in path, "rollcall.ndjson has a hash that is none")
        body = head_body(line["kit"], line["kit_seq"], leaf)
        root = root_from_path(leaf_hash(body), line["index"], self.called.get("kits", 0), path)
        need(root == unhex(self.called["root"]), "the device is not proved to be in the roll call")
        need(self.kit == (line["kit_seq"], leaf), "device %s is incomplete: %d entries shown, "
             "the roll call says %d" % (line["kit"], self.kit[0], line["kit_seq"]))

    def report(self):
        yield "consistent, and signed with the key you gave" if self.confirmed else \
            "internally consistent, key not confirmed"
        yield "log %s, checkpoint of %s over %d entries" % (self.origin, self.time, self.size)
        yield "%d entries, numbers %d to %d; scope: %s" % (
            self.count, self.first, self.last, self.scope)
        if self.line:
            yield "device %s: all its %d entries before entry %d are here" % (
                self.line["kit"], self.line["kit_seq"], self.line["entry"])
        elif not self.whole:
            yield "this is a part of the log; nothing shows that none was left out of it"
        if self.retained:
            comparable = self.matched or self.retained[0] in (0, self.size)
            yield "the checkpoint you kept agrees" if comparable else \
                "the checkpoint you kept cannot be compared with this file"
        else:
            yield "no earlier checkpoint was given, so a log replaced as a whole would not show"


def head_body(kit, kit_seq, leaf):
    return ('{"kit":"%s","kit_seq":%d,"leaf":"%s"}' % (kit, kit_seq, leaf.hex())).encode()


def main():
    parser = argparse.ArgumentParser(description="Check an evidence file.")
    parser.add_argument("file")
    parser.add_argument("--key", help="public key of the site, from elsewhere")
    parser.add_argument("--checkpoint", help="signed checkpoint kept from earlier")
    args = parser.parse_args()
    try:
        retained = None
        if args.checkpoint is not None:
            with open(args.checkpoint, "rb") as f:
                retained = f.read(MAX_SMALL + 1)
        with open(args.file, "rb") as f:
            for line in Check(f, args.key, retained).report():
                print(line)
    except Difference as e:
        print(e)
        return 1
    except (Unreadable, OSError) as e:
        print(e, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
