// Output files appear whole or not at all: written beside their place, flushed to disk, then renamed.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace sheetloupe {

/// Writes `bytes` to `path`, making its folder when missing. Throws InputError (folder not writable, disk full).
void write_file(const std::filesystem::path& path, std::string_view bytes);

/// A file to be written.
struct FileDraft {
  std::filesystem::path path;
  std::string bytes;
};

/// Writes all of `files` as drafts first and puts them in place, in the order given, only when every one is on disk: a
/// full disk leaves all the old files. From the first until after `then`, which writes what is made of them, a file
/// `.unfinished` lies beside the last of them: a run killed meanwhile leaves it, the next whole writing takes it away.
/// Throws InputError.
void write_files(const std::vector<FileDraft>& files, const std::function<void()>& then = {});

/// Whether a run was killed while it put several files in place in `folder`: some are then older than others.
bool is_unfinished(const std::filesystem::path& folder);

/// Throws InputError when `folder` is unfinished: its files may belong to two inspections.
void require_finished(const std::filesystem::path& folder);

/// Throws InputError when nothing can be written into `folder`, which is made when missing: told before the work, not
/// after it.
void require_writable(const std::filesystem::path& folder);

/// The whole file. Throws InputError when missing, a folder, unreadable or larger than `limit_bytes`.
std::string read_file(const std::filesystem::path& path, std::size_t limit_bytes = std::size_t{512} << 20);

}  // namespace sheetloupe
