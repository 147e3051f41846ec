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

/// The whole file. Throws InputError when missing, a folder, unreadable or larger than `limit_bytes`.
std::string read_file(const std::filesystem::path& path, std::size_t limit_bytes = std::size_t{512} << 20);

}  // namespace sheetloupe
