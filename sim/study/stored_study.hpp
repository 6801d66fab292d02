#pragma once

#include <filesystem>
#include <string>

#include "sim/store/hdf5_file.hpp"
#include "sim/study/run.hpp"

namespace driftglow::study {

// A whole study.h5 read back.
struct StoredStudy {
  Study study;
  Table table;
  std::string program_version;
};
// Throws InputError where the file holds no whole study.
StoredStudy read_stored_study(const std::filesystem::path& path);

// The study that a file of it, whole or a part, is of.
Study study_of(const store::Reader& file);

}  // namespace driftglow::study
