"""Rebuilds a set-up from its callouts alone and compares it with what the program computed.

Usage: rebuild.py CHECK.json        (the answer of `setwright check JOB --json`)

Read: callouts, the table's pitch, component definitions. Not read until the comparison: X_TC, contacts, holes, settings.
Standard library only, and nothing of the program's code: a second pair of hands with the printed drawing. A pose or a
locating face that is off by more than 0.01 mm, or a point of contact that is not on the face, is a fault. Placements
without a hole (on pieces, on the floor, magnets) are listed and skipped. Exit status 1 where there is a fault.
"""
import json
import math
import re
import sys

LIMIT_MM = 0.01
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
COMPASS = {"E": (1, 0), "N": (0, 1), "W": (-1, 0), "S": (0, -1), "NE": (1, 1), "NW": (-1, 1), "SW": (-1, -1), "SE": (1, -1)}
ON_FACE = {"right": (1, 0), "up": (0, 1), "left": (-1, 0), "down": (0, -1)}


def row_number(letters):
    """A = 0 … Z = 23 without I and O, then AA."""
    number = 0
    for letter in letters:
        number = number * len(LETTERS) + LETTERS.index(letter) + 1
    return number - 1


# Poses are (rotation as three rows, position).
def times(a, b):
    rotation = [[sum(a[0][i][k] * b[0][k][j] for k in range(3)) for j in range(3)] for i in range(3)]
    return rotation, point(a, b[1])


def turn(a, v):
    return [sum(a[0][i][k] * v[k] for k in range(3)) for i in range(3)]


def point(a, v):
    return [x + p for x, p in zip(turn(a, v), a[1])]


def move(x, y, z):
    return [[1, 0, 0], [0, 1, 0], [0, 0, 1]], [x, y, z]


def facing(x, y):
    length = math.hypot(x, y)
    c, s = x / length, y / length
    return [[c, -s, 0], [s, c, 0], [0, 0, 1]], [0, 0, 0]


def add(a, b, scale=1.0):
    return [x + scale * y for x, y in zip(a, b)]


def dot(a, b):
    return sum(x * y for x, y in zip(a, b))


def cross(a, b):
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]


def length_mm(text, unit):
    """"10", "0.5", "1/4", "1 1/2", "2 mm"."""
    if text.endswith(" mm"):
        return float(text[:-3])
    value = 0.0
    for part in text.split():
        over = part.split("/")
        value += float(over[0]) / (float(over[1]) if len(over) > 1 else 1)
    return value * (25.4 if unit == "in" else 1)


class Callout:
    """"K14 E 6 · plate 100 · under 10+5 · face 2 · left-hand · second J13"."""

    def __init__(self, text, unit):
        head, *rest = [part.strip() for part in text.split("·")]
        self.plate, self.under, self.face, self.left, self.second = "", 0.0, 0.0, False, ""
        for part in rest:
            word, _, value = part.partition(" ")
            if word == "plate":
                self.plate = value
            elif word == "under":
                self.under = sum(length_mm(t, unit) for t in value.split("+"))
            elif word == "face":
                self.face = sum(length_mm(t, unit) for t in value.split("+"))
            elif word == "left-hand":
                self.left = True
            elif word == "second":
                self.second = value
            elif word != "right-hand":
                raise ValueError(f"part not understood: {part}")
        host = re.match(r"(\d+)(?:/([^:]+))?:", head)
        self.host_no = int(host.group(1)) if host else 0
        self.host_face = host.group(2) if host else None
        head = head[host.end():] if host else head
        label = re.match(r"([A-HJ-NP-Z]+)(\d+)\b", head)
        self.hole = (int(label.group(2)) - 1, row_number(label.group(1))) if label else None
        if not label:
            return
        head = head[label.end():].strip()
        self.turn, self.degrees, self.mark = (1, 0), None, 0
        slope = re.match(r"(\d+) (over|left), (\d+) (up|down)", head)
        degrees = re.match(r"(\d+)°", head)
        word = re.match(r"[A-Za-z]+", head)
        if slope:
            self.turn = (int(slope.group(1)) * (1 if slope.group(2) == "over" else -1),
                         int(slope.group(3)) * (1 if slope.group(4) == "up" else -1))
            head = head[slope.end():]
        elif degrees:
            self.degrees = int(degrees.group(1))
            head = head[degrees.end():]
        elif word:
            self.turn = (ON_FACE if host else COMPASS)[word.group(0)]
            head = head[word.end():]
        if head.strip():
            self.mark = int(head)


def mirror(vector):
    return [vector[0], -vector[1], vector[2]]


class Rebuilt:
    """A placement from its callout: pose and locating faces in T."""

    def __init__(self, callout, component, host):
        X_TH, pitch_x, pitch_y = host
        angle = facing(math.cos(math.radians(callout.degrees)), math.sin(math.radians(callout.degrees))) \
            if callout.degrees is not None else facing(callout.turn[0] * pitch_x, callout.turn[1] * pitch_y)
        here = move(callout.hole[0] * pitch_x, callout.hole[1] * pitch_y, callout.under)
        self.X_TC = times(times(X_TH, here), angle)
        self.left = callout.left
        hand = mirror if callout.left else list
        setting = component.get("setting")
        slide = [x * callout.mark * setting["step_mm"] for x in setting["direction"]] if setting else [0, 0, 0]
        faces = list(component["faces"])
        for plate in component["plates"]:
            if plate["id"] == callout.plate:
                faces += plate["faces"]
        if callout.plate and callout.plate not in [p["id"] for p in component["plates"]]:
            raise ValueError(f"no plate {callout.plate}")
        packed = next((f["normal"] for f in faces if f["locates"] and f["shape"] == "plane"), None)
        self.faces = {}
        for face in faces:
            at = hand(face["point_mm"])
            if face.get("moving"):
                at = add(at, hand(slide))
            if face["locates"] and face["shape"] == "plane" and face["normal"] == packed:
                at = add(at, hand(face["normal"]), callout.face)
            self.faces[face["id"]] = dict(face, point=point(self.X_TC, at), normal_T=turn(self.X_TC, hand(face["normal"])),
                                          up_T=turn(self.X_TC, hand(face["up"])))

    def host_of(self, grid):
        """Frame of the component's own holes: A1 lower left as read from in front, on both hands."""
        hand = mirror if self.left else list
        up, right, origin = hand(grid["up"]), hand(grid["right"]), hand(grid["origin_mm"])
        if self.left:
            origin = add(origin, right, grid["pitch_right_mm"] * (grid["cols"] - 1))
            right = [-x for x in right]
        out = cross(right, up)
        axes = [[right[i], up[i], out[i]] for i in range(3)]
        return times(self.X_TC, (axes, origin)), grid["pitch_right_mm"], grid["pitch_up_mm"]


def distance_to_face(face, at):
    """(off the surface, beyond its edges), mm."""
    away = add(at, face["point"], -1)
    along = dot(away, face["up_T"])
    if face["shape"] == "plane":
        across = dot(away, cross(face["up_T"], face["normal_T"]))
        off = dot(away, face["normal_T"])
        beyond = max(face["from_mm"] - along, along - face["to_mm"], abs(across) - face["width_mm"] / 2, 0)
    elif face["shape"] == "cylinder":
        height = dot(away, face["normal_T"])
        off = math.dist(add(away, face["normal_T"], -height), [0, 0, 0]) - face["diameter_mm"] / 2
        beyond = max(face["from_mm"] - height, height - face["to_mm"], 0)
    else:
        half = math.radians(face["v_angle_deg"] / 2)
        aside = cross(face["normal_T"], face["up_T"])
        off = min((along * math.sin(half) - s * dot(away, aside) * math.cos(half) for s in (1, -1)), key=abs)
        beyond = max(abs(dot(away, face["normal_T"])) - face["width_mm"] / 2, 0)
    return off, beyond


def rebuild(stage, table, components):
    """{id: Rebuilt}, [ids without a hole]; hosts before their guests."""
    callouts, by_no = {}, {p["no"]: p for p in stage["placements"]}
    for placement in stage["placements"]:
        definition = components[placement["component"]]["definition"]
        callouts[placement["id"]] = Callout(placement["callout"], definition["nominal"])
    rebuilt, skipped = {}, []

    def build(placement):
        if placement["id"] in rebuilt:
            return
        callout = callouts[placement["id"]]
        if callout.hole is None:
            skipped.append(placement)
            return
        host = (move(0, 0, 0), table["pitch_x_mm"], table["pitch_y_mm"])
        if callout.host_no:
            below = by_no[callout.host_no]
            build(below)
            grids = components[below["component"]]["definition"]["grid_faces"]
            grid = next(g for g in grids if callout.host_face in (None, g["id"]))
            host = rebuilt[below["id"]].host_of(grid)
        rebuilt[placement["id"]] = Rebuilt(callout, components[placement["component"]]["definition"], host)

    for placement in stage["placements"]:
        build(placement)
    return rebuilt, skipped


def compare(placement, built, second):
    faults = []
    claimed = placement["X_TC"]
    if claimed is None:
        return ["the program has no pose for it"]
    for i in range(3):
        if abs(claimed[4 * i + 3] - built.X_TC[1][i]) > LIMIT_MM:
            faults.append(f"position {'xyz'[i]} is {claimed[4 * i + 3]}, rebuilt {built.X_TC[1][i]:.4f}")
        if max(abs(claimed[4 * i + j] - built.X_TC[0][i][j]) for j in range(3)) > 1e-5:
            faults.append("turned otherwise")
    if placement["hole"] and placement["hole"]["label"] not in placement["callout"]:
        faults.append(f"hole {placement['hole']['label']} is not the callout's")
    if second and placement["second_hole"] != second:
        faults.append(f"second hole {placement['second_hole']} is not the callout's {second}")
    for contact in placement["contacts"]:
        face = built.faces.get(contact["locating_face"])
        if face is None:
            faults.append(f"no face {contact['locating_face']}")
            continue
        off, beyond = distance_to_face(face, contact["point_T_mm"])
        if abs(off) > LIMIT_MM + abs(contact["gap_mm"]) or beyond > LIMIT_MM:
            faults.append(f"contact with piece {contact['piece']} is {off:.3f} off the face {face['id']}, {beyond:.3f} beyond it")
        if face["shape"] == "plane" and dot(face["normal_T"], contact["normal_T"]) < 1 - 1e-6:
            faults.append(f"face {face['id']} looks another way than its contact")
    return faults


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        document = json.load(file)
    faults = built_count = contact_count = 0
    for stage in document["stages"]:
        rebuilt, skipped = rebuild(stage, document["table"], document["components"])
        for placement in skipped:
            print(f"{stage['name']}, block {placement['no']}: has no hole, skipped: {placement['callout']}")
        for placement in stage["placements"]:
            if placement["id"] not in rebuilt:
                continue
            built_count += 1
            contact_count += len(placement["contacts"])
            nominal = document["components"][placement["component"]]["definition"]["nominal"]
            second = Callout(placement["callout"], nominal).second
            for fault in compare(placement, rebuilt[placement["id"]], second):
                print(f"{stage['name']}, block {placement['no']} ({placement['callout']}): {fault}")
                faults += 1
    print(f"{built_count} placements and {contact_count} contacts rebuilt from their callouts, {faults} faults")
    return 1 if faults or not built_count else 0


if __name__ == "__main__":
    sys.exit(main())
