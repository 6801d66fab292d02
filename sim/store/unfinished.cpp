#include "sim/store/unfinished.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/store/atomic_file.hpp"

namespace driftglow::store {

std::vector<std::filesystem::path> Unfinished::files() const {
  std::vector<std::filesystem::path> files;
  std::error_code none;
  for (const auto& entry : std::filesystem::directory_iterator(folder_, none)) {
    const auto name = entry.path().filename().string();
    if (name.starts_with("from_") && name.ends_with(".h5")) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

std::filesystem::path Unfinished::file_from(int lowest) const {
  // Pieces of a study may begin at the same design twice.
  for (int serial = 0;; ++serial) {
    auto path = folder_ / fmt::format("from_{:07}_{}.h5", lowest, serial);
    if (!std::filesystem::exists(path)) return path;
  }
}

void Unfinished::begin() const {
  ensure_writable_folder(folder_);
}

void Unfinished::remove() const {
  std::error_code ignored;
  remove_stale_temporaries(folder_);
  for (const auto& file : files()) std::filesystem::remove(file, ignored);
  std::filesystem::remove(folder_, ignored);
}

bool SaveTimer::due() {
  const std::lock_guard lock(mutex_);
  const auto now = Clock::now();
  const auto pause = std::max<Clock::duration>(std::chrono::seconds(1), (now - begun_) / 50);
  if (now - last_ < pause) return false;
  last_ = now;
  return true;
}

}  // namespace driftglow::store
