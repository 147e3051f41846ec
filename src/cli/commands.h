// Every command, one line each; each lives in the file of its name.
#pragma once

#include "cli/program.h"

namespace sheetloupe::cli {

Run add_strips_command(CLI::App& app);
Run add_new_command(CLI::App& app);
Run add_inspect_command(CLI::App& app);
Run add_edge_command(CLI::App& app);
Run add_place_command(CLI::App& app);
Run add_log_command(CLI::App& app);
Run add_trend_command(CLI::App& app);
Run add_watch_command(CLI::App& app);
Run add_demo_command(CLI::App& app);
Run add_completion_command(CLI::App& app);
Run add_man_command(CLI::App& app);

}  // namespace sheetloupe::cli
