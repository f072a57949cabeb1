/* Which of the compiled kernels fits this processor: the end of its functions' names. And of which sources it is.
 *
 * A processor tells what it can do by its own instruction (cpuid); that the system keeps the wide registers as it
 * switches between programs, by another (xgetbv). Source: Intel 64 and IA-32 Architectures Software Developer's Manual,
 * volume 1, sections 14.3 and 15.2.
 */
#include <stdint.h>

#if defined(_WIN32)
#define PUBLIC __declspec(dllexport)
#else
#define PUBLIC __attribute__((visibility("default")))
#endif

#ifdef WITH_VARIANTS
#include <cpuid.h>

static uint64_t kept_registers(void)
{
    uint32_t low, high;
    __asm__("xgetbv" : "=a"(low), "=d"(high) : "c"(0));
    return (uint64_t)high << 32 | low;
}

PUBLIC const char *fs_variant(void)
{
    uint32_t a, b, c, d;
    if (!__get_cpuid(1, &a, &b, &c, &d))
        return "_plain";
    uint32_t wanted = 1u << 27 | 1u << 28 | 1u << 12 | 1u << 22; /* osxsave, avx, fma, movbe */
    if ((c & wanted) != wanted || !__get_cpuid_count(7, 0, &a, &b, &c, &d))
        return "_plain";
    uint64_t kept = kept_registers();
    wanted = 1u << 3 | 1u << 5 | 1u << 8; /* bmi1, avx2, bmi2 */
    if ((kept & 6) != 6 || (b & wanted) != wanted)
        return "_plain";
    wanted = 1u << 16 | 1u << 17 | 1u << 28 | 1u << 30 | 1u << 31; /* avx512 f, dq, cd, bw, vl */
    return (kept & 0xe6) == 0xe6 && (b & wanted) == wanted ? "_avx512" : "_avx2";
}
#else
PUBLIC const char *fs_variant(void) { return "_plain"; }
#endif

PUBLIC const char *fs_source(void) { return SOURCE; }
