// For loops over many numbers that take most of a stage's time.
#pragma once

/// Before a function: it is built twice, and the wider registers are taken where the machine has them. Multiplications
/// and additions stay apart (no fused ones), so both give the same bits.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define SHEETLOUPE_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define SHEETLOUPE_WIDE
#endif

/// Before a loop: what it writes overlaps nothing that it reads later.
#if defined(__GNUC__) && !defined(__clang__)
#define SHEETLOUPE_APART _Pragma("GCC ivdep")
#else
#define SHEETLOUPE_APART
#endif
