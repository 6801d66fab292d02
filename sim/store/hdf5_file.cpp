#include "sim/store/hdf5_file.hpp"

#include <H5Cpp.h>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <bit>
#include <cerrno>
#include <chrono>
#include <fstream>
#include <functional>
#include <map>
#include <mutex>
#include <numeric>
#include <optional>
#include <system_error>
#include <utility>

#include "models/error.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/store/digest.hpp"
#include "sim/store/format.hpp"

namespace driftglow::store {

namespace {

static_assert(std::endian::native == std::endian::little, "digests are over little-endian values");

constexpr std::string_view signature = "\x89HDF\r\n\x1a\n";
constexpr std::string_view seal_start = "driftglow sha256 ";
constexpr std::size_t digest_digits = 64;
constexpr const char* format_attribute = "format_version";
constexpr std::size_t seal_size = seal_start.size() + digest_digits + 1;

// Far above any file of ours; keeps a wrong size from asking for all memory.
constexpr std::uint64_t largest_data_set = std::uint64_t{4} << 30;  // bytes
constexpr std::size_t largest_chunk = 1 << 20;                      // bytes
constexpr unsigned deflate_level = 4;

const std::string digest_attribute = "content_sha256";
const std::string provenance = "/provenance";

template <class T>
struct TypePair;  // in memory, in the file, and for data sets the name in digests and messages
template <>
struct TypePair<double> {
  static const H5::PredType& memory() { return H5::PredType::NATIVE_DOUBLE; }
  static const H5::PredType& file() { return H5::PredType::IEEE_F64LE; }
  static constexpr const char* name = "float64";
};
template <>
struct TypePair<std::int32_t> {
  static const H5::PredType& memory() { return H5::PredType::NATIVE_INT32; }
  static const H5::PredType& file() { return H5::PredType::STD_I32LE; }
  static constexpr const char* name = "int32";
};
template <>
struct TypePair<std::int64_t> {
  static const H5::PredType& memory() { return H5::PredType::NATIVE_INT64; }
  static const H5::PredType& file() { return H5::PredType::STD_I64LE; }
  static constexpr const char* name = "int64";
};
template <>
struct TypePair<std::uint64_t> {
  static const H5::PredType& memory() { return H5::PredType::NATIVE_UINT64; }
  static const H5::PredType& file() { return H5::PredType::STD_U64LE; }
};
template <>
struct TypePair<std::uint8_t> {
  static const H5::PredType& memory() { return H5::PredType::NATIVE_UINT8; }
  static const H5::PredType& file() { return H5::PredType::STD_U8LE; }
  static constexpr const char* name = "uint8";
};

H5::StrType text_type() {
  H5::StrType type(H5::PredType::C_S1, H5T_VARIABLE);
  type.setCset(H5T_CSET_UTF8);
  return type;
}

// The number of values, or nothing when it does not fit the cap.
std::optional<std::uint64_t> value_count(const Extents& extents, std::size_t value_size) {
  std::uint64_t count = 1;
  for (const std::uint64_t extent : extents) {
    if (extent != 0 && count > largest_data_set / value_size / extent) return std::nullopt;
    count *= extent;
  }
  return count;
}

// Halves the longest side until a chunk is small enough for HDF5's chunk cache.
std::vector<hsize_t> chunk_shape(const Extents& extents, std::size_t value_size) {
  std::vector<hsize_t> chunk(extents.begin(), extents.end());
  while (std::accumulate(chunk.begin(), chunk.end(), hsize_t{value_size}, std::multiplies<>()) >
         largest_chunk) {
    hsize_t& longest = *std::max_element(chunk.begin(), chunk.end());
    longest = (longest + 1) / 2;
  }
  return chunk;
}

// Calls f with the group or data set at the path.
template <class F>
auto with_object(const H5::H5File& file, const std::string& path, F f) {
  if (path == "/" || file.childObjType(path) == H5O_TYPE_GROUP) return f(file.openGroup(path));
  return f(file.openDataSet(path));
}

bool path_exists(const H5::H5File& file, const std::string& path) {
  for (std::size_t end = path.find('/', 1);; end = path.find('/', end + 1)) {
    if (!file.nameExists(path.substr(0, end))) return false;
    if (end == std::string::npos) return true;
  }
}

std::string now_utc() {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}",
                     fmt::gmtime(std::chrono::system_clock::to_time_t(std::chrono::system_clock::now())));
}

template <class T>
std::string_view bytes_of(std::span<const T> values) {
  return {reinterpret_cast<const char*>(values.data()), values.size_bytes()};
}

}  // namespace

Run start_run(int threads) {
  std::array<char, 256> host{};
  if (gethostname(host.data(), host.size() - 1) != 0) throw LogicError("the host's name cannot be read");
  return {host.data(), now_utc(), "", threads};
}

struct Writer::State {
  std::filesystem::path path;
  H5::H5File file;
  std::map<std::string, std::string> digests;  // content key -> SHA-256

  // H5::Exception is no std::exception and must not leave this file.
  template <class F>
  auto guarded(F action) {
    try {
      return action();
    } catch (const H5::Exception& error) {
      throw LogicError(
          fmt::format("{}: HDF5 refuses: {} ({})", path.string(), error.getDetailMsg(), error.getFuncName()));
    }
  }

  void note(const std::string& key, std::string_view bytes) {
    if (!key.starts_with(provenance)) digests[key] = sha256_hex(bytes);
  }

  void require_path(const std::string& name) const {
    if (!name.starts_with('/') || (name.size() > 1 && name.ends_with('/')))
      throw LogicError(fmt::format("{}: '{}' is no absolute path in the file", path.string(), name));
  }

  // One by one, since groups made along the way by HDF5 itself would keep their times.
  void make_groups(const std::string& group) {
    for (std::size_t end = group.find('/', 1); group.size() > 1; end = group.find('/', end + 1)) {
      const std::string part = group.substr(0, end);
      if (!file.nameExists(part)) {
        const hid_t properties = H5Pcreate(H5P_GROUP_CREATE);
        H5Pset_obj_track_times(properties, false);
        const hid_t made = H5Gcreate2(file.getId(), part.c_str(), H5P_DEFAULT, properties, H5P_DEFAULT);
        H5Pclose(properties);
        if (made < 0) throw LogicError(fmt::format("{}: cannot make the group {}", path.string(), part));
        H5Gclose(made);
      }
      if (end == std::string::npos) return;
    }
  }

  template <class F>
  void on_attribute(const std::string& place, const std::string& name, const H5::DataType& type, F fill) {
    require_path(place);
    guarded([&] {
      if (!path_exists(file, place)) make_groups(place);
      with_object(file, place, [&](const H5::H5Object& object) {
        fill(object.createAttribute(name, type, H5::DataSpace(H5S_SCALAR)));
      });
    });
  }

  void set_text(const std::string& place, const std::string& name, const std::string& value) {
    // HDF5's strings end at the first zero byte: the rest would be lost silently.
    if (value.find('\0') != std::string::npos)
      throw LogicError(fmt::format("{}: the text {} of {} has a zero byte", path.string(), name, place));
    const H5::StrType type = text_type();
    on_attribute(place, name, type, [&](const H5::Attribute& attribute) { attribute.write(type, value); });
    note(place + "@" + name, value);
  }

  template <class T>
  void set_value(const std::string& place, const std::string& name, T value) {
    on_attribute(place, name, TypePair<T>::file(),
                 [&](const H5::Attribute& attribute) { attribute.write(TypePair<T>::memory(), &value); });
    note(place + "@" + name, bytes_of(std::span<const T>(&value, 1)));
  }
};

Writer::Writer(std::filesystem::path path, const Origin& origin) : state_(std::make_unique<State>()) {
  state_->path = std::move(path);
  ensure_writable_folder(state_->path.has_parent_path() ? state_->path.parent_path() : ".");
  H5::Exception::dontPrint();
  state_->guarded([&] {
    H5::FileAccPropList access;
    access.setCore(1 << 20, false);
    access.setFcloseDegree(H5F_CLOSE_STRONG);
    // The earliest format: HDF5 1.10 gives images of the later ones with a wrong checksum in their first
    // block.
    access.setLibverBounds(H5F_LIBVER_EARLIEST, H5F_LIBVER_V18);
    H5::FileCreatPropList creation;
    H5Pset_obj_track_times(creation.getId(), false);
    // Before it makes a file in memory HDF5 looks for one on the disk; below /dev/null none can be.
    static std::atomic<unsigned> serial{0};
    state_->file = H5::H5File(fmt::format("/dev/null/{}", serial++), H5F_ACC_EXCL, creation, access);
  });
  state_->set_value("/", format_attribute, newest_format);
  state_->set_text("/", "program_version", origin.program_version);
  state_->set_text("/", "scenario", origin.scenario_text);
  state_->set_text("/", "scenario_sha256", origin.scenario_hash);
  state_->set_value("/", "seed", origin.seed);
}

Writer::~Writer() = default;

template <class T>
void Writer::write_values(const std::string& path, std::span<const T> values, const Extents& extents,
                          const Description& description, Compression compression) {
  state_->require_path(path);
  if (description.unit.empty() || description.meaning.empty())
    throw LogicError(fmt::format("{}: {} needs a unit and a meaning", state_->path.string(), path));
  if (value_count(extents, sizeof(T)) != values.size())
    throw LogicError(fmt::format("{}: {} has {} values for extents {}", state_->path.string(), path,
                                 values.size(), fmt::join(extents, " x ")));
  state_->guarded([&] {
    if (const std::size_t slash = path.rfind('/'); slash > 0) state_->make_groups(path.substr(0, slash));
    const std::vector<hsize_t> shape(extents.begin(), extents.end());
    const H5::DataSpace space = shape.empty() ? H5::DataSpace(H5S_SCALAR)
                                              : H5::DataSpace(static_cast<int>(shape.size()), shape.data());
    H5::DSetCreatPropList properties;
    H5Pset_obj_track_times(properties.getId(), false);
    if (compression == Compression::deflate && !shape.empty() && !values.empty()) {
      const std::vector<hsize_t> chunk = chunk_shape(extents, sizeof(T));
      properties.setChunk(static_cast<int>(chunk.size()), chunk.data());
      properties.setShuffle();
      properties.setDeflate(deflate_level);
    }
    const H5::DataSet set = state_->file.createDataSet(path, TypePair<T>::file(), space, properties);
    if (!values.empty()) set.write(values.data(), TypePair<T>::memory());
  });
  std::string hashed = fmt::format("{} {} ", TypePair<T>::name, fmt::join(extents, "x"));
  hashed += bytes_of(values);
  state_->note(path, hashed);
  state_->set_text(path, "unit", description.unit);
  state_->set_text(path, "meaning", description.meaning);
}

void Writer::write(const std::string& path, std::span<const double> values, const Extents& extents,
                   const Description& description, Compression compression) {
  write_values(path, values, extents, description, compression);
}

void Writer::write(const std::string& path, std::span<const std::int32_t> values, const Extents& extents,
                   const Description& description, Compression compression) {
  write_values(path, values, extents, description, compression);
}

void Writer::write(const std::string& path, std::span<const std::int64_t> values, const Extents& extents,
                   const Description& description, Compression compression) {
  write_values(path, values, extents, description, compression);
}

void Writer::write(const std::string& path, std::span<const std::uint8_t> values, const Extents& extents,
                   const Description& description, Compression compression) {
  write_values(path, values, extents, description, compression);
}

void Writer::set_text(const std::string& path, const std::string& name, const std::string& value) {
  state_->set_text(path, name, value);
}

void Writer::set_integer(const std::string& path, const std::string& name, std::int64_t value) {
  state_->set_value(path, name, value);
}

void Writer::set_number(const std::string& path, const std::string& name, double value,
                        const std::string& unit) {
  state_->set_value(path, name, value);
  state_->set_text(path, name + "_unit", unit);
}

std::string Writer::commit(const Run& run) {
  std::string lines;
  for (const auto& [key, digest] : state_->digests) lines += fmt::format("{} {}\n", key, digest);
  const std::string content = sha256_hex(lines);
  state_->set_text("/", digest_attribute, content);
  state_->set_text(provenance, "host", run.host);
  state_->set_text(provenance, "started", run.started);
  state_->set_text(provenance, "finished", now_utc());
  state_->set_value(provenance, "threads", std::int64_t{run.threads});

  std::string image;
  state_->guarded([&] {
    state_->file.flush(H5F_SCOPE_GLOBAL);
    const ssize_t size = H5Fget_file_image(state_->file.getId(), nullptr, 0);
    if (size < 0) throw H5::FileIException("H5Fget_file_image", "no size");
    image.resize(static_cast<std::size_t>(size));
    if (H5Fget_file_image(state_->file.getId(), image.data(), image.size()) != size)
      throw H5::FileIException("H5Fget_file_image", "no image");
    state_->file.close();
  });
  image += fmt::format("{}{}\n", seal_start, sha256_hex(image));
  write_text_atomically(state_->path, image);
  return content;
}

// Maps are made side by side, and HDF5 stands one thread at a time.
std::recursive_mutex library;

struct Reader::State {
  std::filesystem::path path;
  std::string remedy;
  Seal seal;
  std::unique_lock<std::recursive_mutex> alone{library};  // outlives the file
  H5::H5File file;

  [[noreturn]] void fault(const std::string& what) const {
    throw InputError(fmt::format("{}: {}; {}", path.string(), what, remedy));
  }

  template <class F>
  auto guarded(const std::string& what, F action) const {
    try {
      return action();
    } catch (const H5::Exception&) {
      fault("cannot be read (" + what + ")");
    }
  }

  // Whether the line stands at the end; the stream goes on behind the signature.
  bool sealed(std::ifstream& stream, std::uintmax_t size) const {
    bool found = false;
    if (size >= signature.size() + seal_size) {
      std::string block(seal_size, '\0');
      stream.seekg(-static_cast<std::streamoff>(seal_size), std::ios::end);
      stream.read(block.data(), static_cast<std::streamsize>(seal_size));
      found = block.starts_with(seal_start);
    }
    stream.clear();
    stream.seekg(static_cast<std::streamoff>(signature.size()));
    return found;
  }

  // Whether the file is ours.
  bool verify() const {
    std::error_code error;
    const auto kind = std::filesystem::status(path, error).type();
    if (kind == std::filesystem::file_type::not_found) fault("does not exist");
    if (kind != std::filesystem::file_type::regular) fault("is not a file that can be read");
    std::ifstream stream(path, std::ios::binary);
    if (!stream) fault(fmt::format("cannot be opened ({})", std::generic_category().message(errno)));
    const std::uintmax_t size = std::filesystem::file_size(path, error);
    if (error) fault(fmt::format("cannot be read ({})", error.message()));

    const auto take = [&](std::string& block, std::uintmax_t bytes) {
      block.resize(static_cast<std::size_t>(bytes));
      if (!stream.read(block.data(), static_cast<std::streamsize>(bytes))) fault("cannot be read to its end");
    };
    std::string block;
    take(block, std::min<std::uintmax_t>(size, signature.size()));
    if (block != signature) fault("is not an HDF5 file");
    if (seal == Seal::optional && !sealed(stream, size)) return false;
    if (size < signature.size() + seal_size) fault("was cut short");
    Sha256 sum;
    sum.update(block);
    for (std::uintmax_t left = size - signature.size() - seal_size; left > 0; left -= block.size()) {
      take(block, std::min<std::uintmax_t>(left, 1 << 20));
      sum.update(block);
    }
    take(block, seal_size);
    if (!block.starts_with(seal_start) || !block.ends_with('\n'))
      fault("was cut short, or was not written by this program");
    if (block.substr(seal_start.size(), digest_digits) != sum.hex())
      fault("was altered or damaged after it was written");
    return true;
  }

  void expect_known_format() const {
    const bool first = guarded("its attributes", [&] { return !file.attrExists(format_attribute); });
    if (first) return;
    const auto found = value<std::int64_t>("/", format_attribute);
    if (found < 1 || found > newest_format)
      fault(
          fmt::format("has file format {}, by driftglow {}, and this one reads formats 1 to {}: read it with "
                      "the version that wrote it",
                      found, text("/", "program_version"), newest_format));
  }

  template <class F>
  auto on_attribute(const std::string& place, const std::string& name, const H5::DataType& type,
                    F take) const {
    const std::string what = place + "@" + name;
    return guarded(what, [&] {
      return with_object(file, place, [&](const H5::H5Object& object) {
        const H5::Attribute attribute = object.openAttribute(name);
        if (!(attribute.getDataType() == type) || attribute.getSpace().getSimpleExtentNpoints() != 1)
          fault(fmt::format("the attribute {} is of another type", what));
        return take(attribute);
      });
    });
  }

  template <class T>
  T value(const std::string& place, const std::string& name) const {
    return on_attribute(place, name, TypePair<T>::file(), [&](const H5::Attribute& attribute) {
      T taken{};
      attribute.read(TypePair<T>::memory(), &taken);
      return taken;
    });
  }

  std::string text(const std::string& place, const std::string& name) const {
    const H5::StrType type = text_type();
    return on_attribute(place, name, type, [&](const H5::Attribute& attribute) {
      std::string taken;
      attribute.read(type, taken);
      return taken;
    });
  }
};

Reader::Reader(std::filesystem::path path, std::string remedy, Seal seal)
    : state_(std::make_unique<State>()) {
  state_->path = std::move(path);
  state_->remedy = std::move(remedy);
  state_->seal = seal;
  const bool ours = state_->verify();
  H5::Exception::dontPrint();
  state_->guarded("its structure", [&] {
    H5::FileAccPropList access;
    // Files are only ever replaced, never changed in place; and some network file systems refuse locks.
    H5Pset_file_locking(access.getId(), false, true);
    state_->file = H5::H5File(state_->path.string(), H5F_ACC_RDONLY, H5::FileCreatPropList::DEFAULT, access);
  });
  if (ours) state_->expect_known_format();
}

Reader::~Reader() = default;

bool Reader::has(const std::string& path) const {
  return state_->guarded(path, [&] { return path == "/" || path_exists(state_->file, path); });
}

bool Reader::has_attribute(const std::string& path, const std::string& name) const {
  return has(path) && state_->guarded(path, [&] {
    return with_object(state_->file, path,
                       [&](const H5::H5Object& object) { return object.attrExists(name); });
  });
}

void Reader::expect(bool right, const std::string& fault) const {
  if (!right) state_->fault(fault);
}

std::vector<std::string> Reader::children(const std::string& group) const {
  return state_->guarded(group, [&] {
    const H5::Group opened = state_->file.openGroup(group);
    std::vector<std::string> names;
    for (hsize_t i = 0; i < opened.getNumObjs(); ++i) names.push_back(opened.getObjnameByIdx(i));
    std::sort(names.begin(), names.end());
    return names;
  });
}

template <class T>
Array<T> Reader::read(const std::string& path, std::size_t rank) const {
  if (!has(path)) state_->fault(fmt::format("has no {}", path));
  return state_->guarded(path, [&] {
    const H5::DataSet set = state_->file.openDataSet(path);
    const auto kind = set.getTypeClass();
    const bool converted = std::is_same_v<T, double> && state_->seal == Seal::optional &&
                           (kind == H5T_FLOAT || kind == H5T_INTEGER);
    if (!converted && !(set.getDataType() == TypePair<T>::file()))
      state_->fault(fmt::format("{} does not hold {} values", path, TypePair<T>::name));
    const H5::DataSpace space = set.getSpace();
    const auto found = static_cast<std::size_t>(space.getSimpleExtentNdims());
    if (found != rank) state_->fault(fmt::format("{} has {} dimensions, not {}", path, found, rank));
    std::vector<hsize_t> shape(rank);
    if (rank > 0) space.getSimpleExtentDims(shape.data());
    Array<T> result{Extents(shape.begin(), shape.end()), {}};
    const auto count = value_count(result.extents, sizeof(T));
    if (!count) state_->fault(fmt::format("{} is larger than any data set of this program", path));
    result.values.resize(*count);
    if (*count > 0) set.read(result.values.data(), TypePair<T>::memory());
    return result;
  });
}

template Array<double> Reader::read<double>(const std::string&, std::size_t) const;
template Array<std::int32_t> Reader::read<std::int32_t>(const std::string&, std::size_t) const;
template Array<std::int64_t> Reader::read<std::int64_t>(const std::string&, std::size_t) const;
template Array<std::uint8_t> Reader::read<std::uint8_t>(const std::string&, std::size_t) const;

Description Reader::description(const std::string& path) const {
  return {text(path, "unit"), text(path, "meaning")};
}

std::string Reader::text(const std::string& path, const std::string& name) const {
  return state_->text(path, name);
}

std::int64_t Reader::integer(const std::string& path, const std::string& name) const {
  return state_->value<std::int64_t>(path, name);
}

double Reader::number(const std::string& path, const std::string& name) const {
  return state_->value<double>(path, name);
}

Origin Reader::origin() const {
  return {text("/", "program_version"), text("/", "scenario"), text("/", "scenario_sha256"),
          state_->value<std::uint64_t>("/", "seed")};
}

Run Reader::run() const {
  return {text(provenance, "host"), text(provenance, "started"), text(provenance, "finished"),
          static_cast<int>(integer(provenance, "threads"))};
}

std::string Reader::content_digest() const {
  return text("/", digest_attribute);
}

}  // namespace driftglow::store
