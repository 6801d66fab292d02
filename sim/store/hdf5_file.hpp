#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

// HDF5 files that are whole or absent, the same bytes for the same content, and verified before they are
// trusted.
//
// A file is the HDF5 image followed by one line, "driftglow sha256 <64 digits>\n", over the bytes before it.
// HDF5 and h5py ignore what follows the image. The Reader checks the line before HDF5 parses anything, since
// HDF5 1.10 may crash on an altered file. This guards against accident, not against someone who writes the
// line anew.
//
// HDF5 is built without thread safety: one thread at a time in the whole of this header. Readers wait for
// each other.
namespace driftglow::store {

using Extents = std::vector<std::uint64_t>;  // slowest first (C order); empty: one value

struct Description {
  std::string unit;     // "T/A"; "1" for pure numbers
  std::string meaning;  // one phrase
};

enum class Compression { none, deflate };

// What the content follows from; the root attributes program_version, scenario, scenario_sha256, seed.
struct Origin {
  std::string program_version;
  std::string scenario_text;
  std::string scenario_hash;
  std::uint64_t seed;
};

// What varies from run to run without changing the content: the attributes of /provenance and nothing else,
// so that comparisons skip this one group. Times are UTC, ISO 8601.
struct Run {
  std::string host;
  std::string started;
  std::string finished;
  int threads;
};

// Host and present time; `finished` is set by Writer::commit.
Run start_run(int threads);

// The file is built in memory and appears at `path` on commit(); without it nothing is left. Paths are
// absolute
// ("/mean/u_r"); groups on the way are made. Throws InputError when the folder cannot be written to (already
// in the constructor), LogicError when the disk is full or a caller is wrong (unit missing, extents not
// matching, name given twice).
class Writer {
 public:
  Writer(std::filesystem::path path, const Origin& origin);
  ~Writer();
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;

  void write(const std::string& path, std::span<const double> values, const Extents& extents,
             const Description& description, Compression compression = Compression::none);
  void write(const std::string& path, std::span<const std::int32_t> values, const Extents& extents,
             const Description& description, Compression compression = Compression::none);
  void write(const std::string& path, std::span<const std::int64_t> values, const Extents& extents,
             const Description& description, Compression compression = Compression::none);
  void write(const std::string& path, std::span<const std::uint8_t> values, const Extents& extents,
             const Description& description, Compression compression = Compression::none);

  // Attributes of a group (made where absent) or of a data set already written; "/" is the root.
  void set_text(const std::string& path, const std::string& name, const std::string& value);
  void set_integer(const std::string& path, const std::string& name, std::int64_t value);
  // Also writes "<name>_unit".
  void set_number(const std::string& path, const std::string& name, double value, const std::string& unit);

  // Ends the writing. Returns the content digest, also kept as the root attribute content_sha256: SHA-256
  // over the lines "<key> <sha256>\n" in bytewise order of the keys. Key and hashed bytes: of a data set its
  // path, and type name, extents and little-endian values; of an attribute "<path>@<name>", and its text or
  // little-endian value. /provenance takes no part: equal digests mean equal results.
  std::string commit(const Run& run);

 private:
  template <class T>
  void write_values(const std::string& path, std::span<const T> values, const Extents& extents,
                    const Description& description, Compression compression);

  struct State;
  std::unique_ptr<State> state_;
};

template <class T>
struct Array {
  Extents extents;
  std::vector<T> values;  // C order
};

// A file of ours, verified when opened. Every fault (absent, foreign, cut short, altered, another type or
// rank than asked for, larger than any of ours) throws InputError: "<file>: <fault>; <remedy>", `remedy`
// being the caller's, e.g. "remove it and it will be computed again".
// Seal::optional also takes files that others wrote: without the line, and with numbers of any type where
// double is asked for. What HDF5 makes of an altered foreign file is not guarded.
enum class Seal { required, optional };

class Reader {
 public:
  Reader(std::filesystem::path path, std::string remedy, Seal seal = Seal::required);
  ~Reader();
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;

  bool has(const std::string& path) const;
  bool has_attribute(const std::string& path, const std::string& name) const;
  // Throws its InputError, with this fault, unless `right`.
  void expect(bool right, const std::string& fault) const;
  std::vector<std::string> children(const std::string& group) const;  // names, bytewise order

  // T: double, std::int32_t, std::int64_t or std::uint8_t, exactly as written.
  template <class T>
  Array<T> read(const std::string& path, std::size_t rank) const;
  Description description(const std::string& path) const;

  std::string text(const std::string& path, const std::string& name) const;
  std::int64_t integer(const std::string& path, const std::string& name) const;
  double number(const std::string& path, const std::string& name) const;

  Origin origin() const;
  Run run() const;
  std::string content_digest() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace driftglow::store
