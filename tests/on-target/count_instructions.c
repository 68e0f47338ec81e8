/* Plugin for QEMU that counts the instructions a guest executes between two places in its code.
 *
 *   cc -shared -fPIC -O2 -o count.so count_instructions.c
 *   qemu-system-arm ... -plugin ./count.so,begin=HEX,end=HEX:NAME,end=HEX:NAME,out=FILE
 *
 * A count runs from the function at `begin` to the next function at one of the `end`s, and is booked
 * under that one's name. FILE gets a line for each name: NAME, how many counts, their sum, the largest.
 *
 * Instructions are added up block by block, as the emulator translates them; a call ends a block, so a
 * function begins one. These are instructions, not cycles. The interface is that of version 1 of QEMU's
 * plugins (QEMU manual, "QEMU TCG Plugins"), declared here since Debian ships no header for it.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct qemu_plugin_tb;
extern uint64_t qemu_plugin_tb_vaddr(const struct qemu_plugin_tb *tb);
extern size_t qemu_plugin_tb_n_insns(const struct qemu_plugin_tb *tb);
extern void qemu_plugin_register_vcpu_tb_trans_cb(uint64_t id, void (*call)(uint64_t, struct qemu_plugin_tb *));
extern void qemu_plugin_register_vcpu_tb_exec_cb(struct qemu_plugin_tb *tb, void (*call)(unsigned, void *),
                                                 int flags, void *data);
extern void qemu_plugin_register_atexit_cb(uint64_t id, void (*call)(uint64_t, void *), void *data);

int qemu_plugin_version = 1;

#define ENDS_MAX 32

struct end {
    uint64_t at;
    char name[64];
    uint64_t counts, sum, largest;
};

/* A block of the guest's code, as translated. */
struct block {
    uint64_t at, instructions;
};

static struct end ends[ENDS_MAX];
static int ends_known;
static uint64_t begin, counted;
static bool counting;
static char out[4096];

static void executed(unsigned cpu, void *data)
{
    const struct block *block = data;
    (void)cpu;
    if (block->at == begin) {
        counting = true;
        counted = 0;
    }
    for (int i = 0; counting && i < ends_known; i++) {
        if (block->at == ends[i].at) {
            counting = false;
            ends[i].counts++;
            ends[i].sum += counted;
            if (counted > ends[i].largest)
                ends[i].largest = counted;
        }
    }
    if (counting)
        counted += block->instructions;
}

static void translated(uint64_t id, struct qemu_plugin_tb *tb)
{
    /* Never freed: the emulator may run a block as long as it lives. */
    struct block *block = malloc(sizeof *block);
    (void)id;
    if (!block)
        abort();
    block->at = qemu_plugin_tb_vaddr(tb);
    block->instructions = qemu_plugin_tb_n_insns(tb);
    qemu_plugin_register_vcpu_tb_exec_cb(tb, executed, 0, block);
}

static void over(uint64_t id, void *data)
{
    FILE *file = fopen(out, "w");
    (void)id;
    (void)data;
    if (!file) {
        perror(out);
        return;
    }
    for (int i = 0; i < ends_known; i++)
        fprintf(file, "%s %llu %llu %llu\n", ends[i].name, (unsigned long long)ends[i].counts,
                (unsigned long long)ends[i].sum, (unsigned long long)ends[i].largest);
    fclose(file);
}

int qemu_plugin_install(uint64_t id, const void *info, int argc, char **argv)
{
    (void)info;
    for (int i = 0; i < argc; i++) {
        if (!strncmp(argv[i], "begin=", 6)) {
            begin = strtoull(argv[i] + 6, NULL, 16);
        } else if (!strncmp(argv[i], "out=", 4)) {
            snprintf(out, sizeof out, "%s", argv[i] + 4);
        } else if (!strncmp(argv[i], "end=", 4) && ends_known < ENDS_MAX) {
            char *name;
            ends[ends_known].at = strtoull(argv[i] + 4, &name, 16);
            snprintf(ends[ends_known].name, sizeof ends[0].name, "%s", name + (*name == ':'));
            ends_known++;
        } else {
            fprintf(stderr, "count_instructions: not understood: %s\n", argv[i]);
            return 1;
        }
    }
    qemu_plugin_register_vcpu_tb_trans_cb(id, translated);
    qemu_plugin_register_atexit_cb(id, over, NULL);
    return 0;
}
