#pragma once

#include <filesystem>
#include <vector>

namespace driftglow::program {

// The folder for the results, made and tried before anything long begins. Those folders that had to be made
// and are empty in the end are removed again: a refused scenario leaves nothing.
class OutFolder {
 public:
  explicit OutFolder(const std::filesystem::path& path);
  ~OutFolder();
  OutFolder(const OutFolder&) = delete;
  OutFolder& operator=(const OutFolder&) = delete;

 private:
  void remove_made() const;
  std::vector<std::filesystem::path> made_;  // deepest first
};

}  // namespace driftglow::program
