"""STEP text (AP214) of boxes, written by hand: one box, or the same box many times in nested assemblies."""
from itertools import product


class StepText:
    def __init__(self):
        self.lines = []

    def add(self, entity):
        self.lines.append(f"#{len(self.lines) + 1}={entity};")
        return f"#{len(self.lines)}"

    def point(self, x, y, z):
        return self.add(f"CARTESIAN_POINT('',({x:.6f},{y:.6f},{z:.6f}))")

    def axes(self, x, y, z, axis=(0, 0, 1), ref=(1, 0, 0)):
        at = self.point(x, y, z)
        directions = [self.add("DIRECTION('',({:.1f},{:.1f},{:.1f}))".format(*d)) for d in (axis, ref)]
        return self.add(f"AXIS2_PLACEMENT_3D('',{at},{directions[0]},{directions[1]})")

    def box(self, size):
        """MANIFOLD_SOLID_BREP from the origin to `size`."""
        corner = {c: self.point(*(s * k for s, k in zip(size, c))) for c in product((0, 1), repeat=3)}
        vertex = {c: self.add(f"VERTEX_POINT('',{corner[c]})") for c in corner}
        edge = {}
        for c in corner:
            for axis in range(3):
                if c[axis] == 0:
                    to = tuple(1 if i == axis else c[i] for i in range(3))
                    direction = self.add("DIRECTION('',({:.1f},{:.1f},{:.1f}))".format(*(float(i == axis) for i in range(3))))
                    line = self.add(f"LINE('',{corner[c]},{self.add(f'VECTOR({chr(39) * 2},{direction},1.)')})")
                    edge[c, to] = self.add(f"EDGE_CURVE('',{vertex[c]},{vertex[to]},{line},.T.)")
        faces = []
        for axis, side in product(range(3), (0, 1)):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            turns = [(0, 0), (1, 0), (1, 1), (0, 1)] if side else [(0, 0), (0, 1), (1, 1), (1, 0)]
            ring = []
            for a, b in turns:
                c = [0, 0, 0]
                c[axis], c[u], c[v] = side, a, b
                ring.append(tuple(c))
            oriented = []
            for a, b in zip(ring, ring[1:] + ring[:1]):
                forward = (a, b) in edge
                curve = edge[a, b] if forward else edge[b, a]
                oriented.append(self.add(f"ORIENTED_EDGE('',*,*,{curve},.{'T' if forward else 'F'}.)"))
            bound = self.add(f"FACE_OUTER_BOUND('',{self.add('EDGE_LOOP({},({}))'.format(chr(39) * 2, ','.join(oriented)))},.T.)")
            normal = [0.0, 0.0, 0.0]
            normal[axis] = 1.0 if side else -1.0
            ref = [float(i == u) for i in range(3)]
            at = [size[axis] * side if i == axis else 0 for i in range(3)]
            plane = self.add(f"PLANE('',{self.axes(*at, normal, ref)})")
            faces.append(self.add(f"ADVANCED_FACE('',({bound}),{plane},.T.)"))
        shell = self.add(f"CLOSED_SHELL('',({','.join(faces)}))")
        return self.add(f"MANIFOLD_SOLID_BREP('',{shell})")

    def context(self):
        unit = self.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))")
        angle = self.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
        solid = self.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
        near = self.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-07),{unit},'','')")
        return self.add(f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({near}))"
                        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({unit},{angle},{solid}))REPRESENTATION_CONTEXT('',''))")

    def product(self, name, representation, application):
        """PRODUCT_DEFINITION of a part shown by `representation`."""
        context = self.add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
        of = self.add(f"PRODUCT_DEFINITION_FORMATION('','',{self.add(f'PRODUCT({name!r},{name!r},{chr(39) * 2},({context}))')})")
        definition = self.add(f"PRODUCT_DEFINITION('design','',{of},"
                              f"{self.add(f'PRODUCT_DEFINITION_CONTEXT({chr(39)}part definition{chr(39)},{application},{chr(39)}design{chr(39)})')})")
        shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{representation})")
        return definition

    def assembly(self, name, part, part_representation, places, application, context):
        """(definition, representation) of a product that holds `part` once at each place."""
        here = self.axes(0, 0, 0)
        frames = [self.axes(*place) for place in places]
        representation = self.add(f"SHAPE_REPRESENTATION('',({','.join([here, *frames])}),{context})")
        definition = self.product(name, representation, application)
        for number, frame in enumerate(frames):
            use = self.add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{name}{number}','{name}{number}','',{definition},{part},$)")
            shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{use})")
            moved = self.add(f"ITEM_DEFINED_TRANSFORMATION('','',{here},{frame})")
            relation = self.add(f"(REPRESENTATION_RELATIONSHIP('','',{part_representation},{representation})"
                                f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({moved})SHAPE_REPRESENTATION_RELATIONSHIP())")
            self.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({relation},{shape})")
        return definition, representation

    def text(self):
        return ("ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"
                "FILE_NAME('boxes','2026-01-01T00:00:00',(''),(''),'','','');\n"
                "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
                + "\n".join(self.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n")


def boxes(size, levels=()):
    """A box of `size`; each level of (count, (dx, dy, dz)) repeats what is below it."""
    step = StepText()
    application = step.add("APPLICATION_CONTEXT('automotive design')")
    context = step.context()
    solid = step.box(size)
    representation = step.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({step.axes(0, 0, 0)},{solid}),{context})")
    definition = step.product("box", representation, application)
    for number, (count, shift) in enumerate(levels):
        places = [tuple(i * d for d in shift) for i in range(count)]
        definition, representation = step.assembly(f"level{number}", definition, representation, places, application, context)
    return step.text()
