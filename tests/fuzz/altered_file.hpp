#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "tests/fuzz/targets.hpp"

namespace driftglow::fuzz {

// Files that store::Reader takes for ours, because they end in the right digest, and that are not as ours
// are: from another version, from somebody's script. What HDF5 makes of bytes that are no HDF5 is not looked
// at, since the digest keeps such files from it.
class AlteredFile {
 public:
  enum class Seal { put, left_out };

  // whole: a file of ours.
  AlteredFile(const std::filesystem::path& whole, Seal seal);

  // The whole file after the edits, at most eight, that the bytes spell: an object left out, one value
  // replaced, other extents, another type, another rank, an attribute replaced or left out.
  void write(const std::filesystem::path& path, Bytes edits) const;

  // The whole file with one byte changed or its end cut off, still with its digest.
  void write_damaged(const std::filesystem::path& path, Bytes where) const;

 private:
  struct Attribute {
    std::string object, name;
  };
  std::string image_;  // HDF5 and digest
  Seal seal_;
  std::vector<std::string> data_sets_, groups_;
  std::vector<Attribute> attributes_;
};

}  // namespace driftglow::fuzz
