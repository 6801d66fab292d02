#include "tools/driftglow/out_folder.hpp"

#include <system_error>

namespace driftglow::program {

OutFolder::OutFolder(const std::filesystem::path& path) {
  std::error_code ignored;
  for (auto folder = std::filesystem::absolute(path).lexically_normal();
       !std::filesystem::exists(folder, ignored) && folder != folder.root_path();
       folder = folder.parent_path()) {
    made_.push_back(folder);
  }
  try {
    store::ensure_writable_folder(path);
    lock_ = std::make_unique<store::FolderLock>(path);
    store::remove_stale_temporaries(path);
  } catch (...) {
    remove_made();
    throw;
  }
}

OutFolder::~OutFolder() {
  remove_made();
}

void OutFolder::remove_made() const {
  // Only empty folders can be removed this way.
  for (const auto& folder : made_) {
    std::error_code ignored;
    std::filesystem::remove(folder, ignored);
  }
}

}  // namespace driftglow::program
