"""The main job by commands alone: from STEP to the drawing, for both samples."""
import copy
import json
import re
import subprocess
from pathlib import Path

from program import PROGRAM, RESOURCES, SAMPLES, ProgramTest, main, rebuild, schema

# Page sizes in points, 1/72 in: ISO 216 and ANSI/ASME Y14.1 (tabloid = B).
PAPERS = {"A4": {595, 842}, "A3": {842, 1191}, "letter": {612, 792}, "tabloid": {792, 1224}}
SECTION = {"square_tube": "square_tube", "rectangular_tube": "rect_tube", "plate": "plate"}


class Samples(ProgramTest):
    def test_both_jobs_are_rebuilt_byte_for_byte_by_commands(self):
        subprocess.run([SAMPLES / "jobs", self.folder, PROGRAM], check=True, stdout=subprocess.DEVNULL)
        for name in ("D1", "D2"):
            self.assertEqual((self.folder / f"{name}.setwright").read_bytes(), (SAMPLES / f"{name}.setwright").read_bytes(), name)

    def test_both_jobs_pass_and_answer_the_same_twice(self):
        for name in ("D1", "D2"):
            job = self.sample_job(name)
            self.assertIn("passes every check", self.good("check", job))
            answer = self.good("check", job, "--json")
            self.assertEqual(answer, self.good("check", job, "--json"))
            self.assertEqual(answer, self.good("check", job, "--json", environment={"LC_ALL": "de_DE.UTF-8"}))

    def test_answers_and_jobs_hold_to_their_schemas(self):
        for name in ("D1", "D2"):
            job = self.sample_job(name)
            answer = self.check_json(job)
            schema("check").validate(answer)
            schema("job").validate(json.loads(job.read_text()))
            schema("inspect").validate(json.loads(self.good("inspect", SAMPLES / f"{name}.step", "--json")))
            component = schema("component")
            for entry in answer["components"].values():
                component.validate(entry["definition"])

    def test_the_shop_s_files_hold_to_their_schemas(self):
        family = schema("component")
        family = family.evolve(schema={"$ref": "#/$defs/family_file", "$defs": family.schema["$defs"]})
        for folder, rule in (("tables", schema("table")), ("shelves", schema("shelf")), ("catalogue", family)):
            files = sorted((RESOURCES / folder).glob("*.json"))
            self.assertTrue(files)
            for file in files:
                errors = [e.message for e in rule.iter_errors(json.loads(file.read_text()))]
                self.assertEqual(errors, [], file)

    def test_every_placement_is_rebuilt_from_its_callout_within_a_hundredth(self):
        for name in ("D1", "D2"):
            answer = self.good("check", self.sample_job(name), "--json")
            status, lines = rebuild(answer, self.folder)
            self.assertEqual(status, 0, lines)
            placements = json.loads(answer)["stages"][0]["placements"]
            self.assertIn(f"{len(placements)} placements", lines)

    def test_one_hole_moved_in_the_answer_is_a_fault_for_the_rebuilder(self):
        answer = self.check_json(self.sample_job("D2"))
        for index, placement in enumerate(answer["stages"][0]["placements"]):
            row, column = re.match(r"([A-Z]+)(\d+)", placement["callout"]).groups()
            other = f"{row}{int(column) + 1}"
            for label, callout in ((True, False), (False, True), (True, True)):
                changed = copy.deepcopy(answer)
                moved = changed["stages"][0]["placements"][index]
                if label:
                    moved["hole"]["label"] = other
                if callout:
                    moved["callout"] = moved["callout"].replace(f"{row}{column}", other, 1)
                self.assertEqual(rebuild(changed, self.folder)[0], 1, (moved["callout"], label, callout))


class Inspect(ProgramTest):
    def test_sections_lengths_and_end_angles_are_those_worked_by_hand(self):
        for name in ("D1", "D2"):
            expected = json.loads((SAMPLES / "expected" / f"{name}.json").read_text())
            found = json.loads(self.good("inspect", SAMPLES / f"{name}.step", "--json"))["pieces"]
            by_name = {piece["name"]: piece for piece in found}
            self.assertEqual(sorted(by_name), sorted(piece["id"] for piece in expected["pieces"]))
            for want in expected["pieces"]:
                piece, section = by_name[want["id"]], want["section"]
                self.assertEqual(piece["section"]["kind"], SECTION[section["kind"]])
                self.assertAlmostEqual(piece["section"]["width_mm"], section["width_mm"], delta=0.01)
                if section["kind"] == "plate":
                    self.assertAlmostEqual(piece["section"]["depth_mm"], section["thickness_mm"], delta=0.01)
                    self.assertAlmostEqual(piece["length_mm"], section["length_mm"], delta=0.01)
                    continue
                self.assertAlmostEqual(piece["section"]["depth_mm"], section["depth_mm"], delta=0.01)
                self.assertAlmostEqual(piece["section"]["wall_mm"], section["wall_mm"], delta=0.01)
                for key, value in (("centre_mm", "centre"), ("long_point_mm", "long"), ("short_point_mm", "short")):
                    self.assertAlmostEqual(piece[key], want[f"{value}_length_mm"], delta=0.01)
                for end, end_want in zip(piece["ends"], want["ends"], strict=True):
                    self.assertEqual(end["kind"], end_want["kind"])
                    self.assertAlmostEqual(end["angle_deg"], end_want["angle_deg"], delta=0.01)

    def test_what_is_said_names_every_piece_with_its_section(self):
        answer = self.good("inspect", SAMPLES / "D1.step")
        self.assertRegex(answer, r"P4: square tube 40 mm × 40 mm × 3 mm.*mitre 45° / mitre 45°")
        self.assertIn("7 pieces, 32 welds, 900 mm × 660 mm × 808 mm overall", answer)


class Edits(ProgramTest):
    def test_a_job_is_started_laid_set_changed_and_cleared(self):
        job = self.folder / "job.setwright"
        self.assertIn("7 pieces", self.good("new", SAMPLES / "D1.step", "-o", job))
        self.good("lay", job, "--down", "-Y", "--at", "200,67,15")
        self.assertEqual(self.good("place", job, "V6 S 4 · plate 100", "m50-index-stop"),
                         "Block 1: m50-index-stop at V6 S 4 · plate 100.\n")
        self.assertEqual(self.good("set", job, "1", "V7 S 4 · plate 100"),
                         "Block 1 (m50-index-stop) is now at V7 S 4 · plate 100.\n")
        self.good("set", job, "customer", "Mill Lane Forge")
        self.good("set", job, "held:P6", "by-hand")
        self.good("set", job, "order", "P1 1 P3")
        document = json.loads(job.read_text())
        self.assertEqual(document["title"]["customer"], "Mill Lane Forge")
        self.assertEqual(document["stages"][0]["placements"][0]["seat"]["hole"], {"col": 6, "row": 19})
        self.assertEqual(len(self.check_json(job, code=1)["stages"][0]["order"]), 3)
        self.assertEqual(self.good("remove", job, "1"), "Block 1 is off the table.\n")
        self.assertEqual(self.check_json(job, code=1)["stages"][0]["placements"], [])

    def test_what_stands_on_a_block_goes_with_it_only_when_told(self):
        job = self.sample_job("D1")
        self.refused("remove", job, "11", says="Blocks 12 and 20 stand on block 11")
        self.good("remove", job, "11", "--with-guests")
        left = [p["no"] for p in json.loads(job.read_text())["stages"][0]["placements"]]
        self.assertFalse({11, 12, 20} & set(left))

    def test_the_shelf_lists_what_fits_the_table(self):
        answer = self.good("shelf", self.sample_job("D1"))
        self.assertIn("m50-index-stop: index stop", answer)
        self.assertNotIn("in2-", answer)
        self.assertNotIn("m100-", answer)


class Sheets(ProgramTest):
    def test_pdf_in_every_paper_and_both_units(self):
        for name, paper, unit in (("D1", "A4", "mm"), ("D2", "A3", "in"), ("D2", "letter", "in"), ("D2", "tabloid", "mm")):
            out = self.folder / f"{paper}.pdf"
            code, answer, errors = self.run_program("sheets", self.sample_job(name), "-o", out, "--paper", paper, "--units", unit,
                                                    environment={"XDG_RUNTIME_DIR": ""})
            self.assertEqual((code, errors), (0, ""), answer)
            data = out.read_bytes()
            self.assertTrue(data.startswith(b"%PDF-"))
            boxes = re.findall(rb"/MediaBox \[\s*0 0 ([\d.]+) ([\d.]+)", data)
            self.assertEqual(len(boxes), int(re.search(r"(\d+) pages", answer).group(1)))
            for box in boxes:
                self.assertEqual({round(float(side)) for side in box}, PAPERS[paper])

    def test_svg_one_file_a_page_with_every_number(self):
        answer = self.good("sheets", self.sample_job("D1"), "-o", self.folder / "d.svg")
        pages = sorted(self.folder.glob("d-*.svg"))
        self.assertEqual(len(pages), int(re.search(r"(\d+) pages", answer).group(1)))
        self.assertEqual(pages[0].name, "d-01.svg")
        text = "".join(Path(page).read_text() for page in pages)
        self.assertIn("V6 S 4", text)
        self.assertIn("11:B1", text)
        again = {page: page.read_bytes() for page in pages}
        self.good("sheets", self.sample_job("D1"), "-o", self.folder / "d.svg")
        self.assertEqual(again, {page: page.read_bytes() for page in pages})

    def test_a_set_up_that_fails_is_drawn_with_a_word_of_warning(self):
        job = self.sample_job("D1")
        self.good("set", job, "1", "U6 S 4 · plate 100")
        code, _, errors = self.run_program("sheets", job, "-o", self.folder / "d.svg")
        self.assertEqual(code, 0)
        self.assert_one_sentence(errors)
        self.assertIn("WRONG", (self.folder / "d-01.svg").read_text())


if __name__ == "__main__":
    main()
