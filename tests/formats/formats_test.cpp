#include <H5Cpp.h>
#include <doctest/doctest.h>

#include "sim/store/digest.hpp"
#include "sim/store/format.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/program/run.hpp"

// flight_1.h5 and study_1.h5 were written by the program of commit 740fd8b, whose files carry no format yet:
// a flight of two held tags at 18 uT in 40 uT, three replicates, and a study of two such thresholds.

namespace {

using namespace driftglow;
using namespace driftglow::program_test;

std::filesystem::path stored(const char* name) {
  return std::filesystem::path(DRIFTGLOW_SOURCE_DIR) / "tests" / "formats" / name;
}

// A sealed copy that says it has this format.
void with_format(const std::filesystem::path& from, const std::filesystem::path& to, std::int64_t format) {
  std::string image = read(from);
  image.resize(image.rfind("driftglow sha256 "));
  write(to, image);
  {
    H5::H5File file(to.string(), H5F_ACC_RDWR);
    if (file.attrExists("format_version")) file.removeAttr("format_version");
    file.createAttribute("format_version", H5::PredType::STD_I64LE, H5::DataSpace(H5S_SCALAR))
        .write(H5::PredType::NATIVE_INT64, &format);
  }
  image = read(to);
  write(to, image + "driftglow sha256 " + store::sha256_hex(image) + "\n");
}

void check_refused(const Ended& ended, const std::string& expected) {
  CAPTURE(ended.err);
  CHECK(ended.status == 2);
  CHECK(ended.out.empty());
  CHECK(ended.err.find(expected) != std::string::npos);
  CHECK(std::count(ended.err.begin(), ended.err.end(), '\n') == 1);
}

constexpr const char* held =
    "vessel: {inner_diameter: 190 mm, height: 320 mm}\n"
    "drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}\n"
    "tags: [{name: held, count: 2, receiver: {threshold_flux_density: 18 uT}, hold: {place: [0 mm, 0 mm, 160 "
    "mm]}}]\n"
    "flight: {duration: 1 s, warmup: 0 s, replicates: 3}\n";

}  // namespace

TEST_CASE("files of the first format are read") {
  const Folder folder;
  const auto flight = run(folder, "show " + stored("flight_1.h5").string() + " --out shown --json");
  CAPTURE(flight.err);
  REQUIRE(flight.status == 0);
  CHECK(read(folder / "shown/report.html").find("</html>") != std::string::npos);
  const auto summary = nlohmann::json::parse(flight.out);
  CHECK(summary["replicates"] == 3);
  // 1 - 18/40 of the time (closed form); the interval is the flight's own, some 4.5 %.
  CHECK(std::abs(summary["tag_designs"][0]["fits"][0]["duty"]["mean"].get<double>() - 0.55) < 0.06);
  const auto study = run(folder, "show " + stored("study_1.h5").string() + " --out shown_study");
  CAPTURE(study.err);
  CHECK(study.status == 0);
}

TEST_CASE("what is written carries its format") {
  const Folder folder;
  const auto summary = fly(folder, held);
  CHECK(summary["format_version"] == 1);
  for (const char* name : {"flight.h5", "air.h5"})
    CHECK(store::Reader(folder / "out" / name, "").integer("/", "format_version") == store::newest_format);
}

TEST_CASE("a newer or senseless format is refused in one sentence, and stays as it is") {
  const Folder folder;
  fly(folder, held);
  for (const std::int64_t format : {store::newest_format + 1, std::int64_t{0}, std::int64_t{-3}}) {
    const auto file = folder / "out" / "flight.h5";
    with_format(stored("flight_1.h5"), file, format);
    const auto before = read(file);
    const auto said = "out/flight.h5: has file format " + std::to_string(format) +
                      ", by driftglow 0.1.0, and this one reads formats 1 to " +
                      std::to_string(store::newest_format);
    check_refused(run(folder, "show out"), said);
    check_refused(run(folder, "join out"), said);
    CHECK(read(file) == before);
  }
  // The same file under a format that is known is read: the refusal is the number's.
  with_format(stored("flight_1.h5"), folder / "out" / "flight.h5", store::newest_format);
  CHECK(run(folder, "show out").status == 0);
  with_format(folder / "out" / "air.h5", folder / "newer.h5", store::newest_format + 1);
  write(folder / "gridded.yaml", std::string(held) + "air: {source: gridded, file: newer.h5}\n");
  check_refused(run(folder, "sheet gridded.yaml"), "newer.h5: has file format");
}

TEST_CASE("a scenario, a study, readings of a newer form are refused in one sentence") {
  const Folder folder;
  write(folder / "first.yaml", std::string("format: 1\n") + held);
  CHECK(run(folder, "sheet first.yaml").status == 0);
  // Its unknown keys are not told: they may be right.
  write(folder / "newer.yaml", std::string(held) + "format: 2\nstorm: {kind: gale}\n");
  check_refused(
      run(folder, "sheet newer.yaml"),
      "newer.yaml:5:1: format: value `2` is a form newer than this driftglow knows; expected one up to 1");
  write(folder / "study.yaml", "scenario: first.yaml\nformat: 7\n");
  check_refused(run(folder, "vary study.yaml"), "study.yaml:2:1: format: value `7` is a form newer");
  write(folder / "readings.yaml", "format: 2\n");
  check_refused(run(folder, "tune first.yaml readings.yaml"),
                "readings.yaml:1:1: format: value `2` is a form newer");
  write(folder / "none.yaml", std::string("format: 0\n") + held);
  check_refused(run(folder, "sheet none.yaml"), "none.yaml:1:9: format:");
}
