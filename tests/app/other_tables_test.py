"""The same job on the other tables: 100/Ø28, 80/Ø20 and 2 in/Ø5/8 in."""
import json

from program import SAMPLES, ProgramTest, main, rebuild, schema


class OtherTables(ProgramTest):
    def started(self, table):
        job = self.folder / f"{table}.setwright"
        self.good("new", SAMPLES / "D1.step", "-o", job, "--table", table)
        return job

    def rebuilt(self, job, count):
        code, answer, errors = self.run_program("check", job, "--json")
        self.assertEqual(code, 1, errors)  # most of the weldment is held by nothing yet
        schema("check").validate(json.loads(answer))
        status, lines = rebuild(answer, self.folder)
        self.assertEqual(status, 0, lines)
        self.assertIn(f"{count} placements", lines)
        return json.loads(answer)

    def test_one_stop_and_one_rest_on_each_metric_table(self):
        for table, system in (("grid100", "m100"), ("grid80", "m80")):
            with self.subTest(table=table):
                job = self.started(table)
                self.good("lay", job, "--down", "-Y", "--at", "200,67,15")
                shelf = self.good("shelf", job)
                rest = next(line.split(":")[0] for line in shelf.splitlines() if f"{system}-rest-" in line)
                self.good("place", job, "B3", rest)
                self.good("place", job, "D6 S 0 · plate 100", f"{system}-index-stop")
                answer = self.rebuilt(job, 2)
                pitch = answer["table"]["pitch_x_mm"]
                self.assertEqual(answer["stages"][0]["placements"][0]["X_TC"][3:8:4], [2 * pitch, pitch])

    def test_inch_table_with_a_fractional_packer(self):
        job = self.started("grid2in")
        self.good("set", job, "units", "in")
        self.good("lay", job, "--down", "-Y", "--at", "8,2 3/4,1/2")
        self.assertEqual(self.good("place", job, "B3 · under 1/16+1/4", "in2-rest-2"), "Block 1: in2-rest-2 at B3 · under 1/4+1/16.\n")
        self.good("place", job, "D6 NE 1 · plate 4", "in2-index-stop")
        placed = self.rebuilt(job, 2)["stages"][0]["placements"][0]
        # 2 pitches of 50.8 along, 1 up, 5/16 in = 7.9375 mm above the top.
        self.assertEqual(placed["X_TC"][3:12:4], [101.6, 50.8, 7.9375])
        self.good("sheets", job, "-o", self.folder / "in.svg", "--units", "in", "--paper", "letter")
        text = "".join(page.read_text() for page in self.folder.glob("in-*.svg"))
        self.assertIn("under 1/4+1/16", text)
        self.assertIn("inch", text)


if __name__ == "__main__":
    main()
