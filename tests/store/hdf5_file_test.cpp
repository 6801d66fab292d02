#include "sim/store/hdf5_file.hpp"

#include <H5Cpp.h>
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <numeric>

#include "models/error.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/store/digest.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;
using namespace driftglow::store;

namespace {

const std::string remedy = "remove it and it will be computed again";

Origin sample_origin() {
  const std::string text = "title: über a column\nseed: 7\n";
  return {"0.1.0", text, sha256_hex(text), std::numeric_limits<std::uint64_t>::max()};
}

Run fixed_run() {
  return {"bench", "2026-01-02T03:04:05Z", "", 2};
}

std::vector<double> ramp(std::size_t count) {
  std::vector<double> values(count);
  std::iota(values.begin(), values.end(), 0.25);
  return values;
}

std::string write_sample(const std::filesystem::path& path, const Origin& origin = sample_origin(),
                         const Run& run = fixed_run(), double first = 0.25) {
  Writer writer(path, origin);
  std::vector<double> u = ramp(24);
  u[0] = first;
  writer.write("/axes/r", ramp(4), {4}, {"m", "radius"});
  writer.write("/mean/u_r", u, {2, 3, 4}, {"m/s", "mean radial speed"}, Compression::deflate);
  writer.write("/trace/step", std::vector<std::int64_t>{-1, 1LL << 40}, {2}, {"1", "step"});
  writer.write("/trace/lit", std::vector<std::uint8_t>{0, 255}, {2}, {"1", "lit or not"});
  writer.write("/trace/tag", std::vector<std::int32_t>{-5, 7}, {1, 2}, {"1", "tag"});
  writer.write("/check/interpolation_error", std::vector<double>{1e-5}, {}, {"1", "largest found"});
  writer.write("/empty", std::vector<double>{}, {0, 3}, {"m", "nothing"}, Compression::deflate);
  writer.set_number("/circuit/main", "L", 91.39e-6, "H");
  writer.set_integer("/circuit/main", "turns", 20);
  writer.set_text("/", "kind", "sample");
  return writer.commit(run);
}

void flip_byte(const std::filesystem::path& path, std::size_t place) {
  std::string bytes = file_text(path);
  bytes.at(place) = static_cast<char>(bytes.at(place) ^ 1);
  std::ofstream(path, std::ios::binary) << bytes;
}

std::string refusal(const std::filesystem::path& path) {
  return message_of<InputError>([&] { Reader(path, remedy).read<double>("/axes/r", 1); });
}

}  // namespace

TEST_CASE("what was written is read back, of every type and rank") {
  const Folder folder;
  const std::string digest = write_sample(folder / "air.h5");
  const Reader reader(folder / "air.h5", remedy);
  const auto u = reader.read<double>("/mean/u_r", 3);
  CHECK(u.extents == Extents{2, 3, 4});
  CHECK(u.values == ramp(24));
  CHECK(reader.read<std::int64_t>("/trace/step", 1).values == std::vector<std::int64_t>{-1, 1LL << 40});
  CHECK(reader.read<std::uint8_t>("/trace/lit", 1).values == std::vector<std::uint8_t>{0, 255});
  CHECK(reader.read<std::int32_t>("/trace/tag", 2).values == std::vector<std::int32_t>{-5, 7});
  CHECK(reader.read<double>("/check/interpolation_error", 0).values == std::vector<double>{1e-5});
  CHECK(reader.read<double>("/empty", 2).extents == Extents{0, 3});
  CHECK(reader.description("/axes/r").unit == "m");
  CHECK(reader.description("/axes/r").meaning == "radius");
  CHECK(reader.number("/circuit/main", "L") == 91.39e-6);
  CHECK(reader.text("/circuit/main", "L_unit") == "H");
  CHECK(reader.integer("/circuit/main", "turns") == 20);
  CHECK(reader.text("/", "kind") == "sample");
  CHECK(reader.children("/trace") == std::vector<std::string>{"lit", "step", "tag"});
  CHECK(reader.has("/"));
  CHECK(reader.has("/circuit/main"));
  CHECK_FALSE(reader.has("/circuit/other"));
  CHECK_FALSE(reader.has("/nowhere/at/all"));
  CHECK(reader.origin().scenario_text == sample_origin().scenario_text);
  CHECK(reader.origin().scenario_hash == sample_origin().scenario_hash);
  CHECK(reader.origin().program_version == "0.1.0");
  CHECK(reader.origin().seed == sample_origin().seed);
  CHECK(reader.run().host == "bench");
  CHECK(reader.run().threads == 2);
  CHECK(reader.run().finished.size() == reader.run().started.size());
  CHECK(reader.content_digest() == digest);
}

TEST_CASE("values that no arithmetic keeps come back bit by bit") {
  const Folder folder;
  const std::vector<double> odd = {-0.0, std::numeric_limits<double>::infinity(),
                                   std::numeric_limits<double>::denorm_min(), std::nan("")};
  {
    Writer writer(folder / "a.h5", sample_origin());
    writer.write("/odd", odd, {4}, {"1", "odd ones"}, Compression::deflate);
    writer.commit(fixed_run());
  }
  const auto read = Reader(folder / "a.h5", remedy).read<double>("/odd", 1).values;
  CHECK(std::signbit(read[0]));
  CHECK(read[1] == odd[1]);
  CHECK(read[2] == odd[2]);
  CHECK(std::isnan(read[3]));
}

TEST_CASE("large data sets survive chunking and long scenario texts survive the attribute") {
  const Folder folder;
  Origin origin = sample_origin();
  origin.scenario_text = std::string(200'000, 'y');
  const std::vector<double> values = ramp(700 * 501);
  {
    Writer writer(folder / "a.h5", origin);
    writer.write("/big", values, {700, 501}, {"1", "more than one chunk"}, Compression::deflate);
    writer.commit(fixed_run());
  }
  const Reader reader(folder / "a.h5", remedy);
  CHECK(reader.read<double>("/big", 2).values == values);
  CHECK(reader.origin().scenario_text == origin.scenario_text);
  CHECK(std::filesystem::file_size(folder / "a.h5") < values.size() * sizeof(double));
}

TEST_CASE("the same content gives the same bytes, and the digest leaves out the run alone") {
  const Folder folder;
  // `finished` is the clock's: written twice within a second, or tried again.
  std::string first, second;
  for (int attempt = 0; attempt < 5 && (first.empty() || first != second); ++attempt) {
    write_sample(folder / "a.h5");
    write_sample(folder / "b.h5");
    first = file_text(folder / "a.h5");
    second = file_text(folder / "b.h5");
  }
  CHECK((first == second));

  const std::string digest = write_sample(folder / "a.h5");
  CHECK(write_sample(folder / "b.h5", sample_origin(), {"other", "2020-01-01T00:00:00Z", "", 7}) == digest);
  CHECK(write_sample(folder / "b.h5", sample_origin(), fixed_run(), std::nextafter(0.25, 1)) != digest);
  Origin other = sample_origin();
  other.seed = 8;
  CHECK(write_sample(folder / "b.h5", other) != digest);
}

TEST_CASE("nothing appears without commit, and a file before it stays") {
  const Folder folder;
  { const Writer writer(folder / "a.h5", sample_origin()); }
  CHECK(folder.names().empty());
  write_sample(folder / "a.h5");
  const std::string before = file_text(folder / "a.h5");
  {
    Writer writer(folder / "a.h5", sample_origin());
    writer.write("/x", ramp(2), {2}, {"m", "x"});
  }
  CHECK((file_text(folder / "a.h5") == before));
}

TEST_CASE("a full disk leaves nothing behind") {
  const Folder folder;
  std::string message;
  {
    const SizeLimit limit(3000);
    message = message_of<LogicError>([&] { write_sample(folder / "a.h5"); });
  }
  CHECK(message.starts_with((folder / "a.h5").string() + ": could not be written whole"));
  CHECK(folder.names().empty());
}

TEST_CASE("an unwritable folder is refused before anything is computed") {
  const Folder folder;
  write_text_atomically(folder / "plain", "");
  CHECK_THROWS_AS(Writer(folder / "plain/a.h5", sample_origin()), InputError);
}

TEST_CASE("a caller's mistakes are ours") {
  const Folder folder;
  Writer writer(folder / "a.h5", sample_origin());
  writer.write("/x", ramp(2), {2}, {"m", "x"});
  CHECK_THROWS_AS(writer.write("/x", ramp(2), {2}, {"m", "x"}), LogicError);
  CHECK_THROWS_AS(writer.write("/y", ramp(2), {2}, {"", "no unit"}), LogicError);
  CHECK_THROWS_AS(writer.write("/y", ramp(2), {2}, {"m", ""}), LogicError);
  CHECK_THROWS_AS(writer.write("/y", ramp(2), {3}, {"m", "wrong extents"}), LogicError);
  CHECK_THROWS_AS(writer.write("/y", ramp(2), {std::uint64_t{1} << 63, 2}, {"m", "overflow"}), LogicError);
  CHECK_THROWS_AS(writer.write("y", ramp(2), {2}, {"m", "relative"}), LogicError);
  CHECK_THROWS_AS(writer.write("/x/y", ramp(2), {2}, {"m", "below a data set"}), LogicError);
  CHECK_THROWS_AS(writer.set_text("/", "note", std::string("a\0b", 3)), LogicError);
  CHECK_THROWS_AS(writer.set_text("/", "seed", "twice"), LogicError);
}

TEST_CASE("a file that is not whole and ours is refused with one sentence") {
  const Folder folder;
  const auto path = folder / "coil.h5";
  const std::string start = path.string() + ": ";
  const std::string end = "; " + remedy;
  CHECK(refusal(path) == start + "does not exist" + end);
  write_sample(path);
  REQUIRE(refusal(path).empty());
  const std::string whole = file_text(path);

  SUBCASE("cut short anywhere") {
    for (std::size_t left = 0; left < whole.size(); left += (left < 200 ? 1 : 97)) {
      std::filesystem::resize_file(path, left);
      const std::string message = refusal(path);
      CHECK(message.starts_with(start));
      CHECK(message.ends_with(end));
      std::ofstream(path, std::ios::binary) << whole;
    }
    std::filesystem::resize_file(path, whole.size() - 1);
    CHECK(refusal(path) == start + "was cut short, or was not written by this program" + end);
  }
  SUBCASE("one bit flipped anywhere") {
    for (std::size_t place = 0; place < whole.size(); place += (place < 200 ? 1 : 53)) {
      flip_byte(path, place);
      CHECK(refusal(path).ends_with(end));
      flip_byte(path, place);
    }
    flip_byte(path, whole.size() / 2);
    CHECK(refusal(path) == start + "was altered or damaged after it was written" + end);
  }
  SUBCASE("lengthened") {
    std::ofstream(path, std::ios::binary | std::ios::app) << "more";
    CHECK(refusal(path).ends_with(end));
  }
  SUBCASE("another kind of file") {
    write_text_atomically(path, "r,z\n" + std::string(500, '1'));
    CHECK(refusal(path) == start + "is not an HDF5 file" + end);
    write_text_atomically(path, "");
    CHECK(refusal(path) == start + "is not an HDF5 file" + end);
  }
  SUBCASE("a folder") {
    std::filesystem::remove(path);
    std::filesystem::create_directory(path);
    CHECK(refusal(path) == start + "is not a file that can be read" + end);
  }
  SUBCASE("HDF5 of another program") {
    H5::H5File(path.string(), H5F_ACC_TRUNC).close();
    CHECK(refusal(path) == start + "was cut short, or was not written by this program" + end);
  }
  SUBCASE("no HDF5 inside although it is signed") {
    std::string forged = whole.substr(0, 8) + std::string(400, '\x7f');
    write_text_atomically(path, forged + "driftglow sha256 " + sha256_hex(forged) + "\n");
    CHECK(refusal(path) == start + "cannot be read (its structure)" + end);
  }
}

TEST_CASE("what is not as asked for is refused") {
  const Folder folder;
  write_sample(folder / "a.h5");
  const Reader reader(folder / "a.h5", remedy);
  const std::string start = (folder / "a.h5").string() + ": ";
  const std::string end = "; " + remedy;
  CHECK(message_of<InputError>([&] { reader.read<double>("/trace/step", 1); }) ==
        start + "/trace/step does not hold float64 values" + end);
  CHECK(message_of<InputError>([&] { reader.read<double>("/axes/r", 2); }) ==
        start + "/axes/r has 1 dimensions, not 2" + end);
  CHECK(message_of<InputError>([&] { reader.read<double>("/axes/x", 1); }) == start + "has no /axes/x" + end);
  CHECK(message_of<InputError>([&] { reader.read<double>("/axes", 1); }) ==
        start + "cannot be read (/axes)" + end);
  CHECK(message_of<InputError>([&] { reader.number("/", "kind"); }) ==
        start + "the attribute /@kind is of another type" + end);
  CHECK(message_of<InputError>([&] { reader.text("/", "seed"); }) ==
        start + "the attribute /@seed is of another type" + end);
  CHECK(message_of<InputError>([&] { reader.text("/", "absent"); }) ==
        start + "cannot be read (/@absent)" + end);
}

TEST_CASE("h5py reads everything, and Python finds the same digests") {
  const Folder folder;
  write_sample(folder / "a.h5");
  write_text_atomically(folder / "check.py", R"(
import hashlib, re, sys, h5py, numpy
path = sys.argv[1]
image = open(path, "rb").read()
assert image[-82:] == b"driftglow sha256 " + hashlib.sha256(image[:-82]).hexdigest().encode() + b"\n"
with h5py.File(path, "r") as f:
    assert f["/mean/u_r"].shape == (2, 3, 4)
    assert (f["/mean/u_r"][:].ravel() == numpy.arange(24) + 0.25).all()
    assert f["/trace/lit"].dtype == numpy.uint8 and list(f["/trace/lit"]) == [0, 255]
    assert f["/trace/tag"].dtype == numpy.int32 and f["/trace/step"][1] == 1 << 40
    assert f["/check/interpolation_error"][()] == 1e-5
    assert f["/mean/u_r"].attrs["unit"] == "m/s"
    assert f.attrs["scenario"].startswith("title: \u00fcber")
    assert f.attrs["scenario_sha256"] == hashlib.sha256(f.attrs["scenario"].encode()).hexdigest()
    assert f.attrs["seed"] == 2**64 - 1
    assert f["/circuit/main"].attrs["L"] == 91.39e-6
    assert f["/provenance"].attrs["threads"] == 2 and f["/provenance"].attrs["host"] == "bench"
    keys = {}
    def raw(value):
        return value.encode() if isinstance(value, str) else value.tobytes()
    def take(path, thing):
        if path.startswith("/provenance"):
            return
        if isinstance(thing, h5py.Dataset):
            assert thing.attrs["unit"] and thing.attrs["meaning"], path
            head = "%s %s " % (thing.dtype.name, "x".join(map(str, thing.shape)))
            keys[path] = head.encode() + thing[()].tobytes()
        for name, value in thing.attrs.items():
            if name != "content_sha256":
                keys[path + "@" + name] = raw(value)
    take("/", f)
    f.visititems(lambda name, thing: take("/" + name, thing))
    lines = "".join("%s %s\n" % (k, hashlib.sha256(keys[k]).hexdigest()) for k in sorted(keys))
    assert f.attrs["content_sha256"] == hashlib.sha256(lines.encode()).hexdigest()
)");
  const std::string python = "/usr/bin/python3";
  if (std::system((python + " -c 'import h5py' 2>/dev/null").c_str()) != 0) {
    MESSAGE("python3-h5py is not installed: not checked");
    return;
  }
  const std::string command =
      fmt::format("{} {} {}", python, (folder / "check.py").string(), (folder / "a.h5").string());
  CHECK(std::system(command.c_str()) == 0);
}
