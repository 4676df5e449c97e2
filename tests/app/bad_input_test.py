"""What goes in wrong: one sentence, exit code 2, the old file intact. What is unusual but good: exit code 0."""
import hashlib
import json
import os
import shutil
import stat
import subprocess
import unittest

from program import PROGRAM, RESOURCES, SAMPLES, ProgramTest, main
from step_boxes import boxes

AS_ROOT = os.geteuid() == 0
NOBODY = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups") if AS_ROOT else ()
# Root may read everything, so these tests run as nobody, who cannot reach a clone in a private folder.
NOBODY_REACHES_US = not AS_ROOT or subprocess.run(
    [*NOBODY, "sh", "-c", 'test -r "$0" && "$1" --version', str(RESOURCES / "tables" / "grid50.json"), str(PROGRAM)],
    capture_output=True).returncode == 0
needs_nobody = unittest.skipUnless(NOBODY_REACHES_US, "this folder is closed to others")


class StepFiles(ProgramTest):
    def step(self, content, name="part.step"):
        path = self.folder / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    def refused_both_ways(self, path, says):
        self.refused("inspect", path, says=says)
        self.refused("inspect", path, "--json", says=says)
        self.refused("new", path, "-o", self.folder / "new.setwright", says=says)

    def test_not_a_step_file(self):
        self.refused_both_ways(self.step("solid cube\n"), "is not a STEP file")
        self.refused_both_ways(self.step(os.urandom(5000)), "is not a STEP file")
        self.refused_both_ways(self.sample_job(), "is not a STEP file")

    def test_empty(self):
        self.refused_both_ways(self.step(""), "is empty")

    def test_truncated(self):
        whole = (SAMPLES / "D1.step").read_bytes()
        for part in (0.1, 0.5, 0.99):
            self.refused_both_ways(self.step(whole[:int(len(whole) * part)]), "ends too early")

    def test_no_solids(self):
        text = boxes((300, 50, 50))
        data = text.index("DATA;\n") + 6
        self.refused_both_ways(self.step(text[:data] + "#1=CARTESIAN_POINT('',(0.,0.,0.));\nENDSEC;\nEND-ISO-10303-21;\n"), "no solids")

    def test_surfaces_only(self):
        text = boxes((300, 50, 50)).replace("ADVANCED_BREP_SHAPE_REPRESENTATION", "MANIFOLD_SURFACE_SHAPE_REPRESENTATION")
        text = text.replace("MANIFOLD_SOLID_BREP('',", "SHELL_BASED_SURFACE_MODEL('',(").replace("CLOSED_SHELL", "OPEN_SHELL")
        lines = [line.replace(");", "));") if "SHELL_BASED" in line else line for line in text.splitlines()]
        self.refused_both_ways(self.step("\n".join(lines) + "\n"), "no solid")

    def test_a_folder_or_nothing(self):
        self.refused_both_ways(self.folder, "is a folder")
        self.refused_both_ways(self.folder / "none.step", "does not exist")
        self.refused("inspect", "", says="empty")

    @needs_nobody
    def test_no_permission(self):
        self.folder.chmod(0o755)
        path = self.step((SAMPLES / "D1.step").read_bytes())
        path.chmod(0)
        self.refused("inspect", path, says="may not be read", prefix=NOBODY)
        path.chmod(0o644)

    def test_no_helper_program_and_no_resources(self):
        self.refused("inspect", SAMPLES / "D1.step", says="could not be started", environment={"SETWRIGHT_WORKER": "/nonexistent"})
        self.refused("inspect", SAMPLES / "D1.step", says="install Setwright again", environment={"SETWRIGHT_RESOURCES": "/nonexistent"})

    def test_ten_thousand_solids_open(self):
        path = self.step(boxes((300, 50, 50), [(10, (400, 0, 0)), (10, (0, 100, 0)), (10, (0, 0, 100)), (10, (4000, 0, 0))]))
        answer = self.good("inspect", path)
        self.assertIn("10000 pieces", answer.splitlines()[-1])
        for command in (("new", path, "-o", "many.setwright"), ("lay", "many.setwright", "--at", "0,0,0")):
            code, _, errors = self.run_program(*command)
            self.assertEqual(code, 0)
            self.assertEqual([line for line in errors.splitlines() if "10000 pieces: checks" in line],
                             ["part.step holds 10000 pieces: checks on so many take a while."])


class Jobs(ProgramTest):
    def edited(self, change):
        job = self.sample_job()
        document = json.loads(job.read_text())
        change(document)
        job.write_text(json.dumps(document, ensure_ascii=False))
        return job

    def refused_by_all(self, job, says):
        for arguments in (("check", job), ("check", job, "--json"), ("shelf", job), ("lay", job, "--at", "0,0,0"),
                          ("place", job, "A1", "m50-rest-50"), ("set", job, "notes", "x"), ("remove", job, "1"),
                          ("sheets", job, "-o", self.folder / "out.pdf")):
            self.refused(*arguments, says=says)

    def test_a_newer_version_is_left_alone(self):
        self.refused_by_all(self.edited(lambda d: d.update(version=2, more={})), "newer Setwright")

    def test_not_a_job(self):
        job = self.folder / "job.setwright"
        for content in ((SAMPLES / "D1.step").read_bytes(), b"{}", b"[]", b"\x89PNG\r\n\x1a\n\x00"):
            job.write_bytes(content)
            self.refused("check", job, says="is not a Setwright job")

    def test_damaged(self):
        job = self.sample_job()
        text = job.read_bytes()
        for part in (0, 0.001, 0.3, 0.999):
            job.write_bytes(text[:int(len(text) * part)])
            self.refused("check", job, says="damaged")
        self.refused_by_all(self.edited(lambda d: d.pop("stages")), "stages is missing")
        self.refused("check", self.edited(lambda d: d["weldments"][0]["step"].update(packed="AAAA")), says="damaged")

    def test_a_folder_or_nothing(self):
        self.refused_by_all(self.folder, "is a folder")
        self.refused_by_all(self.folder / "none", "does not exist")

    @needs_nobody
    def test_no_permission(self):
        self.folder.chmod(0o755)
        job = self.sample_job()
        job.chmod(0o000)
        self.refused("check", job, says="may not be read", prefix=NOBODY)
        job.chmod(0o444)
        self.folder.chmod(0o555)
        self.refused("set", job, "notes", "x", says="could not be written", prefix=NOBODY)
        self.refused("sheets", job, "-o", self.folder / "a.pdf", says="could not be written", prefix=NOBODY)
        self.folder.chmod(0o755)

    def test_a_component_known_only_from_the_job_opens(self):
        def rename(document):
            text = json.dumps(document["components"].pop("m50-rest-50")).replace("m50-rest-50", "own-rest-50")
            definition = json.loads(text)["definition"]
            # The check sum is over the definition as one line without spaces.
            packed = json.dumps(definition, ensure_ascii=False, separators=(",", ":")).encode()
            document["components"]["own-rest-50"] = {"sha256": hashlib.sha256(packed).hexdigest(), "definition": definition}
            document["components"] = dict(sorted(document["components"].items()))
            for placement in document["stages"][0]["placements"]:
                placement["component"] = placement["component"].replace("m50-rest-50", "own-rest-50")
            document["shelf"]["count"]["own-rest-50"] = 20

        code, _, errors = self.run_program("check", self.edited(rename))
        self.assertEqual(code, 0)
        self.assertEqual(errors, "own-rest-50 is not in the catalogue: the job's own definition is used.\n")

    def test_unknown_words(self):
        job = self.sample_job()
        for arguments, says in (
                (("place", job, "ZZ1", "m50-rest-50"), "There is no hole ZZ1"),
                (("place", job, "A0", "m50-rest-50"), ""),
                (("place", job, "I5", "m50-rest-50"), ""),
                (("place", job, "A49", "m50-rest-50"), "columns 1 to 48"),
                (("place", job, "99:A1", "m50-rest-50"), "99"),
                (("place", job, "A1", "rest"), "no component \"rest\""),
                (("place", job, "A1", "m100-rest-50"), "holes"),
                (("place", job, "", "m50-rest-50"), "empty"),
                (("place", job, "A1", "m50-rest-50", "--stage", "2"), "no stage 2"),
                (("place", job, "A1", "m50-rest-50", "--stage", "0"), "no stage 0"),
                (("set", job, "held:P9", "nested"), "no piece \"P9\""),
                (("set", job, "held:P1", "glue"), "glue"),
                (("set", job, "order", "P1 P9"), "no piece \"P9\""),
                (("set", job, "99", "A1"), "no block 99"),
                (("set", job, "colour", "red"), "cannot be set"),
                (("set", job, "units", "ft"), "ft"),
                (("remove", job, "99"), "no block 99"),
                (("lay", job, "--at", "1,2"), "1,2"),
                (("lay", job, "--at", "nan,1,2"), "nan"),
                (("lay", job, "--at", "1,2,3", "--down", "Q"), "Q"),
                (("lay", job, "--at", "1,2,3", "--turn", "inf"), "numbers"),
                (("sheets", job, "-o", "a.pdf", "--paper", "B5"), "B5"),
                (("sheets", job, "-o", "a.pdf", "--units", "ft"), "ft"),
                (("sheets", job, "-o", "a.txt"), "a.txt"),
                (("sheets", job, "-o", "none/a.pdf"), "does not exist"),
                (("new", SAMPLES / "D1.step", "-o", "q", "--table", "oak"), "oak"),
                (("new", SAMPLES / "D1.step", "-o", "q", "--table", "./oak.json"), "does not exist"),
                (("new", SAMPLES / "D1.step", "-o", "q", "--table", SAMPLES / "D1.step"), "line 1"),
                (("new", SAMPLES / "D1.step", "-o", "q", "--shelf", "none"), "none"),
                (("new", SAMPLES / "D1.step", "-o", "none/q"), "does not exist"),
                (("new", SAMPLES / "D1.step", "-o", self.folder), "is a folder"),
                (("new", SAMPLES / "D1.step", "-o", ""), "empty")):
            with self.subTest(arguments=arguments[:1] + arguments[2:]):
                self.refused(*arguments, says=says)


class DiskFull(ProgramTest):
    def disk(self):
        """A disk of 200 kB, where root may mount one."""
        disk = self.folder / "disk"
        disk.mkdir()
        if not AS_ROOT or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=200k", "tmpfs", disk],
                                         capture_output=True, check=False).returncode:
            self.skipTest("mounting a small disk needs root")
        self.addCleanup(subprocess.run, ["umount", disk], check=False)
        return disk

    def test_the_old_job_stays_whole(self):
        disk = self.disk()
        job = shutil.copy(SAMPLES / "D1.setwright", disk / "job.setwright")
        self.refused("set", job, "notes", "x", says="disk is full")
        self.refused("new", SAMPLES / "D2.step", "-o", disk / "other.setwright", says="disk is full")
        self.refused("sheets", job, "-o", disk / "a.pdf", says="disk is full")

    def test_a_full_device_is_told_and_stays_a_device(self):
        device = self.folder / "full"
        try:
            os.mknod(device, 0o666 | stat.S_IFCHR, os.makedev(1, 7))
            device.open("wb").close()
        except OSError:
            self.skipTest("making a device needs root")
        self.refused("new", SAMPLES / "D1.step", "-o", device, says="disk is full")
        self.assertTrue(stat.S_ISCHR(device.stat().st_mode))

    def test_an_answer_that_cannot_be_written_is_no_success(self):
        job = self.sample_job()
        for arguments in (("check", job, "--json"), ("check", job), ("inspect", SAMPLES / "D1.step", "--json"), ("shelf", job)):
            with open("/dev/full", "wb") as full:
                code, _, errors = self.run_program(*arguments, stdout=full)
            self.assertEqual(code, 2)
            self.assert_one_sentence(errors)

    def test_a_closed_standard_output_writes_into_no_file(self):
        job = self.sample_job()
        done = subprocess.run(["sh", "-c", 'exec "$@" >&-', "sh", PROGRAM, "set", job, "notes", "x"], capture_output=True,
                              text=True, check=False, env={**os.environ, "SETWRIGHT_RESOURCES": str(RESOURCES)})
        self.assertEqual(done.returncode, 2)
        self.assert_one_sentence(done.stderr)
        self.good("check", job)


class CommandLine(ProgramTest):
    def test_misuse(self):
        job = self.sample_job()
        for arguments, says in ((("frobnicate",), "no command"), (("inspect",), "FILE is missing"), (("new", "a.step"), "--out is missing"),
                                (("inspect", "a", "b"), "\"b\""), (("check", job, "--loud"), "\"--loud\""),
                                (("place", job, "A1", "m50-rest-50", "--stage", "x"), "number"), (("remove", job, "x"), "number"),
                                (("lay", job, "--at", "1,2,3", "--turn", "abc"), "number"), (("new", "a.step", "-o", "q", "--table"), "value")):
            with self.subTest(arguments=arguments):
                self.refused(*arguments, says=says)

    def test_what_is_not_built_says_so(self):
        job = self.sample_job()
        for arguments in (("plan", job, "-o", "q"), ("cutlist", job, "-o", "a.csv"), ("export", job, "-o", "a.step"),
                          ("sheets", job, "-o", "a.dxf"), ("sheets", job, "-o", "a.html"), ("sheets", job, "-o", "a.csv")):
            self.refused(*arguments, code=1, says="not in this version yet")

    def test_help_and_version(self):
        for command in ((), *((c,) for c in "inspect new lay place set remove check sheets shelf plan cutlist export".split())):
            self.assertIn("Usage", self.good(*command, "--help"))
        self.assertRegex(self.good("--version"), r"^setwright \d+\.\d+")


if __name__ == "__main__":
    main()
