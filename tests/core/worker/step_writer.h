#pragma once

#include <array>
#include <cstdio>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace setwright::worker {

/// Writes small STEP files by hand (ISO 10303-21 text, AP214 entities), to hold the import to what no kernel wrote.
class StepWriter {
  public:
    StepWriter() {
        context_ = add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')");
        add("APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000," + ref(context_) + ")");
        set_unit(".MILLI.");
        origin_ = axes({0, 0, 0}, {0, 0, 1}, {1, 0, 0});
    }

    /// Unit of everything written after this: an SI prefix, or "INCH".
    void set_unit(const std::string& prefix) {
        int length =
            add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(" + (prefix == "INCH" ? ".MILLI." : prefix) + ",.METRE.))");
        if (prefix == "INCH") {
            const int exponents = add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)");
            const int measure = add("LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4)," + ref(length) + ")");
            length = add("(CONVERSION_BASED_UNIT('INCH'," + ref(measure) + ")LENGTH_UNIT()NAMED_UNIT(" +
                         ref(exponents) + "))");
        }
        const int angle = add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
        const int solid_angle = add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())");
        const int uncertainty =
            add("UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6)," + ref(length) + ",'distance','')");
        geometry_ = add("(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((" + ref(uncertainty) +
                        "))GLOBAL_UNIT_ASSIGNED_CONTEXT((" + list({length, angle, solid_angle}) +
                        "))REPRESENTATION_CONTEXT('',''))");
    }

    /// The faces of a box from the origin to `size`, as a closed shell. With `bulge` the top is a spline whose middle
    /// stands out by that much; 0 makes it a flat one.
    int box_shell(const std::array<double, 3>& size, std::optional<double> bulge = {}) {
        std::array<int, 8> vertices{}, points{};
        std::array<std::array<double, 3>, 8> corner{};
        for (int i = 0; i < 8; ++i) {
            const auto k = static_cast<std::size_t>(i);
            corner[k] = {i & 1 ? size[0] : 0, i & 2 ? size[1] : 0, i & 4 ? size[2] : 0};
            points[k] = point(corner[k]);
            vertices[k] = add("VERTEX_POINT(''," + ref(points[k]) + ")");
        }
        std::vector<std::pair<std::pair<std::size_t, std::size_t>, int>> edges;
        const auto oriented = [&](std::size_t a, std::size_t b) {
            for (const auto& [ends, edge] : edges)
                if (ends == std::pair(b, a)) return add("ORIENTED_EDGE('',*,*," + ref(edge) + ",.F.)");
            const std::array<double, 3> d{corner[b][0] - corner[a][0], corner[b][1] - corner[a][1],
                                          corner[b][2] - corner[a][2]};
            const int vector = add("VECTOR(''," + ref(direction(d)) + ",1.)");
            const int line = add("LINE(''," + ref(points[a]) + "," + ref(vector) + ")");
            const int edge = add("EDGE_CURVE(''," + list({vertices[a], vertices[b], line}) + ",.T.)");
            edges.push_back({{a, b}, edge});
            return add("ORIENTED_EDGE('',*,*," + ref(edge) + ",.T.)");
        };
        constexpr std::size_t loops[6][4] = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4},
                                             {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}};
        constexpr std::array<double, 3> normals[6] = {{0, 0, -1}, {0, 0, 1},  {0, -1, 0},
                                                      {0, 1, 0},  {-1, 0, 0}, {1, 0, 0}};
        std::vector<int> faces;
        for (std::size_t f = 0; f < 6; ++f) {
            std::vector<int> around;
            for (std::size_t i = 0; i < 4; ++i) around.push_back(oriented(loops[f][i], loops[f][(i + 1) % 4]));
            const int loop = add("EDGE_LOOP('',(" + list(around) + "))");
            const int bound = add("FACE_OUTER_BOUND(''," + ref(loop) + ",.T.)");
            const std::array<double, 3>& n = normals[f];
            const int surface =
                f == 1 && bulge ? spline_top(size, *bulge)
                                : add("PLANE(''," + ref(axes(corner[loops[f][0]], n, {n[1] + n[2], n[2], n[0]})) + ")");
            faces.push_back(add("ADVANCED_FACE('',(" + ref(bound) + ")," + ref(surface) + ",.T.)"));
        }
        return add("CLOSED_SHELL('',(" + list(faces) + "))");
    }
    int box(const std::array<double, 3>& size, std::optional<double> bulge = {}) {
        return add("MANIFOLD_SOLID_BREP(''," + ref(box_shell(size, bulge)) + ")");
    }

    struct Part {
        int definition = 0;
        int representation = 0;
    };
    /// `kind` of representation: ADVANCED_BREP_SHAPE_REPRESENTATION, SHAPE_REPRESENTATION …
    Part part(const std::string& name, const std::vector<int>& items,
              const std::string& kind = "ADVANCED_BREP_SHAPE_REPRESENTATION") {
        const int product_context = add("PRODUCT_CONTEXT(''," + ref(context_) + ",'mechanical')");
        const int product = add("PRODUCT('" + name + "','" + name + "','',(" + ref(product_context) + "))");
        const int formation = add("PRODUCT_DEFINITION_FORMATION('',''," + ref(product) + ")");
        const int design = add("PRODUCT_DEFINITION_CONTEXT('part definition'," + ref(context_) + ",'design')");
        Part made;
        made.definition = add("PRODUCT_DEFINITION('design',''," + list({formation, design}) + ")");
        const int shape = add("PRODUCT_DEFINITION_SHAPE('',''," + ref(made.definition) + ")");
        std::vector<int> all{origin_};
        all.insert(all.end(), items.begin(), items.end());
        made.representation = add(kind + "('',(" + list(all) + ")," + ref(geometry_) + ")");
        add("SHAPE_DEFINITION_REPRESENTATION(" + list({shape, made.representation}) + ")");
        return made;
    }
    /// Places `child` in `parent` at a point, without a turn.
    void place(const Part& parent, const Part& child, const std::array<double, 3>& at, const std::string& name = "") {
        const int target = axes(at, {0, 0, 1}, {1, 0, 0});
        const int transformation = add("ITEM_DEFINED_TRANSFORMATION('',''," + list({origin_, target}) + ")");
        const int relation =
            add("(REPRESENTATION_RELATIONSHIP('',''," + list({child.representation, parent.representation}) +
                ")REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(" + ref(transformation) +
                ")SHAPE_REPRESENTATION_RELATIONSHIP())");
        const int use = add("NEXT_ASSEMBLY_USAGE_OCCURRENCE('" + std::to_string(next_) + "','" + name + "',''," +
                            list({parent.definition, child.definition}) + ",$)");
        const int shape = add("PRODUCT_DEFINITION_SHAPE('',''," + ref(use) + ")");
        add("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(" + list({relation, shape}) + ")");
    }
    /// `representation` seen through a mirror across the plane x = 0, as an item of another one.
    int mirrored(int representation) {
        const int map = add("REPRESENTATION_MAP(" + list({origin_, representation}) + ")");
        const int x = direction({-1, 0, 0}), y = direction({0, 1, 0}), z = direction({0, 0, 1}), at = point({0, 0, 0});
        const int operation =
            add("CARTESIAN_TRANSFORMATION_OPERATOR_3D('','',''," + list({x, y, at}) + ",1.," + ref(z) + ")");
        return add("MAPPED_ITEM(''," + list({map, operation}) + ")");
    }

    int add(const std::string& entity) {
        data_ += "#" + std::to_string(next_) + "=" + entity + ";\n";
        return next_++;
    }
    static std::string ref(int number) { return "#" + std::to_string(number); }
    static std::string list(const std::vector<int>& numbers) {
        std::string text;
        for (const int number : numbers) text += (text.empty() ? "" : ",") + ref(number);
        return text;
    }
    std::string text() const {
        return "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
               "FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n" +
               data_ + "ENDSEC;\nEND-ISO-10303-21;\n";
    }

  private:
    int spline_top(const std::array<double, 3>& size, double bulge) {
        std::string rows;
        for (int i = 0; i < 3; ++i) {
            std::vector<int> row;
            // Of degree 2 both ways, the surface takes a quarter of the middle pole's height.
            for (int k = 0; k < 3; ++k)
                row.push_back(point({size[0] * i / 2, size[1] * k / 2, size[2] + (i == 1 && k == 1 ? 4 * bulge : 0)}));
            rows += (i ? ",(" : "(") + list(row) + ")";
        }
        return add("B_SPLINE_SURFACE_WITH_KNOTS('',2,2,(" + rows +
                   "),.UNSPECIFIED.,.F.,.F.,.F.,(3,3),(3,3),(0.,1.),(0.,1.),.UNSPECIFIED.)");
    }
    static std::string triple(const std::array<double, 3>& v) {
        std::array<char, 96> text{};
        std::snprintf(text.data(), text.size(), "(%.6f,%.6f,%.6f)", v[0], v[1], v[2]);
        return text.data();
    }
    int point(const std::array<double, 3>& p) { return add("CARTESIAN_POINT(''," + triple(p) + ")"); }
    int direction(const std::array<double, 3>& d) { return add("DIRECTION(''," + triple(d) + ")"); }
    int axes(const std::array<double, 3>& at, const std::array<double, 3>& z, const std::array<double, 3>& x) {
        const int p = point(at), a = direction(z), b = direction(x);
        return add("AXIS2_PLACEMENT_3D(''," + list({p, a, b}) + ")");
    }

    std::string data_;
    int next_ = 1;
    int context_ = 0, geometry_ = 0, origin_ = 0;
};

}  // namespace setwright::worker
