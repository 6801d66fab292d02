#include "tests/fuzz/altered_file.hpp"

#include <H5Cpp.h>

#include <array>
#include <cmath>
#include <cstring>
#include <fstream>
#include <limits>

#include "sim/store/digest.hpp"
#include "tests/store/folder.hpp"

namespace driftglow::fuzz {
namespace {

// Zeros behind the end.
class Source {
 public:
  explicit Source(Bytes bytes) : bytes_(bytes) {}
  bool empty() const { return at_ >= bytes_.size(); }
  std::size_t left() const { return empty() ? 0 : bytes_.size() - at_; }
  unsigned byte() { return empty() ? 0U : bytes_[at_++]; }
  std::size_t below(std::size_t limit) {
    const std::size_t value = byte() << 8;
    return limit == 0 ? 0 : (value + byte()) % limit;
  }
  std::string text() {
    std::string result;
    for (unsigned left = byte() % 32; left > 0; --left) result += static_cast<char>(byte());
    return result;
  }

 private:
  Bytes bytes_;
  std::size_t at_ = 0;
};

double odd_number(Source& source) {
  using Limits = std::numeric_limits<double>;
  static constexpr std::array numbers{0.0,           -1.0,
                                      1.0,           2.0,
                                      0.5,           Limits::quiet_NaN(),
                                      HUGE_VAL,      -HUGE_VAL,
                                      Limits::max(), Limits::denorm_min(),
                                      1e-30,         1e30,
                                      7.0,           1000.0,
                                      2147483647.0,  -2147483648.0};
  const unsigned byte = source.byte();
  return byte < 128 ? numbers[byte % numbers.size()] : 0.01 * (byte - 128);
}

std::int64_t odd_integer(Source& source) {
  using Limits = std::numeric_limits<std::int64_t>;
  static constexpr std::array<std::int64_t, 12> numbers{
      0, 1, -1, 2, 3, 7, 255, 100000, 2147483647, -2147483648, Limits::max(), Limits::min()};
  const unsigned byte = source.byte();
  return byte < 128 ? numbers[byte % numbers.size()] : byte - 128;
}

std::size_t count_of(const std::vector<hsize_t>& extents) {
  std::size_t count = 1;
  for (const auto extent : extents) count *= extent;
  return count;
}

std::vector<hsize_t> extents_of(const H5::DataSet& set) {
  std::vector<hsize_t> extents(static_cast<std::size_t>(set.getSpace().getSimpleExtentNdims()));
  if (!extents.empty()) set.getSpace().getSimpleExtentDims(extents.data());
  return extents;
}

const H5::PredType& some_type(Source& source) {
  static const std::array<const H5::PredType*, 6> types{&H5::PredType::IEEE_F64LE, &H5::PredType::STD_I32LE,
                                                        &H5::PredType::STD_I64LE,  &H5::PredType::STD_U8LE,
                                                        &H5::PredType::IEEE_F32LE, &H5::PredType::STD_I16LE};
  return *types[source.byte() % types.size()];
}

// In place of the set of that name, its values over and over.
void make_anew(H5::H5File& file, const std::string& path, const H5::DataType& type,
               const std::vector<hsize_t>& extents) {
  std::vector<double> values;
  {
    const H5::DataSet old = file.openDataSet(path);
    values.resize(std::max<std::size_t>(count_of(extents_of(old)), 1));
    if (count_of(extents_of(old)) > 0) old.read(values.data(), H5::PredType::NATIVE_DOUBLE);
  }
  file.unlink(path);
  std::vector<double> filled(count_of(extents));
  for (std::size_t i = 0; i < filled.size(); ++i) filled[i] = values[i % values.size()];
  const H5::DataSpace space =
      extents.empty() ? H5::DataSpace() : H5::DataSpace(static_cast<int>(extents.size()), extents.data());
  const H5::DataSet set = file.createDataSet(path, type, space);
  if (!filled.empty()) set.write(filled.data(), H5::PredType::NATIVE_DOUBLE);
}

void replace_value(H5::H5File& file, const std::string& path, Source& source) {
  const H5::DataSet set = file.openDataSet(path);
  const auto extents = extents_of(set);
  const std::size_t count = count_of(extents);
  if (count == 0) return;
  std::size_t index = source.below(count);
  std::vector<hsize_t> at(extents.size()), one(extents.size(), 1);
  for (std::size_t d = extents.size(); d-- > 0; index /= extents[d]) at[d] = index % extents[d];
  H5::DataSpace space = set.getSpace();
  if (!extents.empty()) space.selectHyperslab(H5S_SELECT_SET, one.data(), at.data());
  const H5::DataSpace single;
  if (set.getTypeClass() == H5T_FLOAT) {
    const double value = odd_number(source);
    set.write(&value, H5::PredType::NATIVE_DOUBLE, single, space);
  } else if (set.getDataType().getSize() == 1) {
    const auto value = static_cast<std::uint8_t>(source.byte());
    set.write(&value, H5::PredType::NATIVE_UINT8, single, space);
  } else {
    const std::int64_t value = odd_integer(source);
    set.write(&value, H5::PredType::NATIVE_INT64, single, space);
  }
}

void other_extents(H5::H5File& file, const std::string& path, Source& source) {
  H5::DataType type;
  std::vector<hsize_t> extents;
  {
    const H5::DataSet set = file.openDataSet(path);
    type = set.getDataType();
    extents = extents_of(set);
  }
  const unsigned how = source.byte();
  if (how % 8 == 0) {
    extents.push_back(1 + how / 128);
  } else if (how % 8 == 1 && !extents.empty()) {
    extents.pop_back();
  } else if (!extents.empty()) {
    extents[how % extents.size()] = source.byte() % 32;
  }
  if (count_of(extents) <= 100'000) make_anew(file, path, type, extents);
}

template <class Action>
void on_object(H5::H5File& file, const std::string& path, const Action& action) {
  if (file.childObjType(path) == H5O_TYPE_DATASET)
    action(file.openDataSet(path));
  else
    action(file.openGroup(path));
}

void replace_attribute(const H5::H5Object& object, const std::string& name, Source& source) {
  object.removeAttr(name);
  const H5::DataSpace space;
  switch (source.byte() % 4) {
    case 0: {
      const double value = odd_number(source);
      object.createAttribute(name, H5::PredType::IEEE_F64LE, space)
          .write(H5::PredType::NATIVE_DOUBLE, &value);
      break;
    }
    case 1: {
      const std::int64_t value = odd_integer(source);
      object.createAttribute(name, H5::PredType::STD_I64LE, space).write(H5::PredType::NATIVE_INT64, &value);
      break;
    }
    case 2: {
      H5::StrType type(H5::PredType::C_S1, H5T_VARIABLE);
      type.setCset(H5T_CSET_UTF8);
      const std::string value = source.text();
      object.createAttribute(name, type, space).write(type, value);
      break;
    }
    default:
      break;  // left out
  }
}

void apply_edit(H5::H5File& file, const std::string& data_set, const std::string& group, Source& source,
                const std::string& attribute_of, const std::string& attribute) {
  switch (source.byte() % 8) {
    case 0:
      file.unlink(source.byte() % 4 == 0 ? group : data_set);
      break;
    case 1:
    case 2:
    case 3:
      replace_value(file, data_set, source);
      break;
    case 4:
      other_extents(file, data_set, source);
      break;
    case 5: {
      std::vector<hsize_t> extents = extents_of(file.openDataSet(data_set));
      make_anew(file, data_set, some_type(source), extents);
      break;
    }
    default:
      on_object(file, attribute_of,
                [&](const H5::H5Object& object) { replace_attribute(object, attribute, source); });
  }
}

std::string seal_of(const std::string& image) {
  return "driftglow sha256 " + store::sha256_hex(image) + "\n";
}

void write_text(const std::filesystem::path& path, const std::string& text) {
  write_file(path, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

}  // namespace

AlteredFile::AlteredFile(const std::filesystem::path& whole, Seal seal)
    : image_(store::file_text(whole)), seal_(seal) {
  const H5::H5File file(whole.string(), H5F_ACC_RDONLY);
  std::vector<std::string> open{"/"};
  while (!open.empty()) {
    const std::string path = open.back();
    open.pop_back();
    on_object(const_cast<H5::H5File&>(file), path, [&](const H5::H5Object& object) {
      for (int i = 0; i < object.getNumAttrs(); ++i)
        attributes_.push_back({path, object.openAttribute(static_cast<unsigned>(i)).getName()});
    });
    if (path != "/" && file.childObjType(path) == H5O_TYPE_DATASET) {
      data_sets_.push_back(path);
      continue;
    }
    const H5::Group group = file.openGroup(path);
    if (path != "/") groups_.push_back(path);
    for (hsize_t i = 0; i < group.getNumObjs(); ++i)
      open.push_back((path == "/" ? "" : path) + "/" + group.getObjnameByIdx(i));
  }
}

void AlteredFile::write(const std::filesystem::path& path, Bytes edits) const {
  const std::string image = image_.substr(0, image_.size() - seal_of("").size());
  write_text(path, image);
  H5::Exception::dontPrint();
  {
    H5::H5File file(path.string(), H5F_ACC_RDWR);
    Source source(edits);
    for (int i = 0; i < 8 && !source.empty(); ++i) {
      const std::string& data_set = data_sets_[source.below(data_sets_.size())];
      const std::string& group = groups_[source.below(groups_.size())];
      const Attribute& attribute = attributes_[source.below(attributes_.size())];
      try {
        apply_edit(file, data_set, group, source, attribute.object, attribute.name);
      } catch (const H5::Exception&) {
        // An earlier edit took the object away.
      }
    }
  }
  if (seal_ == Seal::put)
    write_text(path, [&] {
      const std::string altered = store::file_text(path);
      return altered + seal_of(altered);
    }());
}

void AlteredFile::write_damaged(const std::filesystem::path& path, Bytes where) const {
  Source source(where);
  std::string image = image_;
  const std::size_t place = (source.below(65536) * 65536 + source.below(65536)) % image.size();
  const unsigned change = source.byte();
  if (change == 0)
    image.resize(place);
  else
    image[place] = static_cast<char>(static_cast<unsigned char>(image[place]) ^ change);
  write_text(path, image);
}

}  // namespace driftglow::fuzz
