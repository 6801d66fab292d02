#pragma once

#include <filesystem>
#include <string_view>

namespace driftglow::store {

// Makes the folder, with its parents, where absent, and tries that a file can be made in it, so that a long
// run is refused before it begins. Throws InputError when it cannot be used, LogicError when the disk is
// full.
void ensure_writable_folder(const std::filesystem::path& folder);

// Replaces the file as a whole or leaves it as it was: a temporary file in the same folder is written,
// brought to the disk (fsync) and renamed. Makes the folder where absent. Throws InputError when the place
// cannot be written to, LogicError when the disk is full or fails; nothing of the temporary file is left
// then.
void write_text_atomically(const std::filesystem::path& path, std::string_view text);

// Removes temporary files that a killed program left in the folder. To be called only where no other writes
// there.
void remove_stale_temporaries(const std::filesystem::path& folder);

// A folder for one program at a time; the system ends the hold with the program, however that ends. Throws
// InputError when another holds it. A file system that knows no such locks holds nobody off.
class FolderLock {
 public:
  explicit FolderLock(const std::filesystem::path& folder);
  ~FolderLock();
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;

 private:
  int descriptor_;
};

}  // namespace driftglow::store
