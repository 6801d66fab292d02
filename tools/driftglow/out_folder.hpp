#pragma once

#include <filesystem>
#include <memory>
#include <vector>

#include "sim/store/atomic_file.hpp"

namespace driftglow::program {

// The folder for the results, made and tried before anything long begins, and held for this run alone. Those
// folders that had to be made and are empty in the end are removed again: a refused scenario leaves nothing.
class OutFolder {
 public:
  explicit OutFolder(const std::filesystem::path& path);
  ~OutFolder();
  OutFolder(const OutFolder&) = delete;
  OutFolder& operator=(const OutFolder&) = delete;

 private:
  void remove_made() const;
  std::vector<std::filesystem::path> made_;  // deepest first
  std::unique_ptr<store::FolderLock> lock_;
};

}  // namespace driftglow::program
