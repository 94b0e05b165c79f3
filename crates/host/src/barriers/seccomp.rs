//! System calls (seccomp): two filters, of whose verdicts the kernel takes the harsher.
//!
//! - The *deadly* list ends the process with SIGSYS: calls no library makes by accident on the way
//!   to a judgement. The host then names what happened.
//! - The *open* list is all that is allowed; any other call fails with EPERM, so that a library
//!   which merely probes goes on without. Threads are among these: `thread::spawn` gets an error.
//!
//! Source: Linux manual pages seccomp(2), clone(2), openat(2), fcntl(2).

use std::collections::BTreeMap;

use seccompiler::{
    BpfProgram, SeccompAction, SeccompCmpArgLen::Dword, SeccompCmpOp, SeccompCondition,
    SeccompFilter, SeccompRule, TargetArch, apply_filter,
};

use super::{Barrier, BarrierError, BarrierState};

// The numbers are `c_long`, which is `i64` wherever seccompiler works (64-bit machines only).

/// Deadly whatever the arguments: network, other programs and processes, tracing, the kernel.
const DEADLY: &[i64] = &[
    libc::SYS_socket,
    libc::SYS_socketpair,
    libc::SYS_connect,
    libc::SYS_bind,
    libc::SYS_listen,
    libc::SYS_accept,
    libc::SYS_accept4,
    libc::SYS_sendto,
    libc::SYS_sendmsg,
    libc::SYS_sendmmsg,
    libc::SYS_execve,
    libc::SYS_execveat,
    libc::SYS_ptrace,
    libc::SYS_process_vm_readv,
    libc::SYS_process_vm_writev,
    libc::SYS_kill,
    libc::SYS_tkill,
    libc::SYS_rt_sigqueueinfo,
    libc::SYS_rt_tgsigqueueinfo,
    libc::SYS_pidfd_open,
    libc::SYS_pidfd_getfd,
    libc::SYS_pidfd_send_signal,
    libc::SYS_bpf,
    libc::SYS_perf_event_open,
    libc::SYS_userfaultfd,
    libc::SYS_io_uring_setup,
    libc::SYS_mount,
    libc::SYS_umount2,
    libc::SYS_pivot_root,
    libc::SYS_chroot,
    libc::SYS_unshare,
    libc::SYS_setns,
    libc::SYS_add_key,
    libc::SYS_keyctl,
    libc::SYS_request_key,
    libc::SYS_init_module,
    libc::SYS_finit_module,
    libc::SYS_kexec_load,
    libc::SYS_reboot,
];

/// Allowed whatever the arguments: memory, reading and writing what is open, looking at the clock,
/// handling own signals, ending.
const OPEN: &[i64] = &[
    libc::SYS_brk,
    libc::SYS_mmap,
    libc::SYS_mprotect,
    libc::SYS_mremap,
    libc::SYS_munmap,
    libc::SYS_madvise,
    libc::SYS_read,
    libc::SYS_pread64,
    libc::SYS_readv,
    libc::SYS_write,
    libc::SYS_writev,
    libc::SYS_lseek,
    libc::SYS_close,
    libc::SYS_fstat,
    libc::SYS_newfstatat,
    libc::SYS_futex,
    libc::SYS_getrandom,
    libc::SYS_clock_gettime,
    libc::SYS_clock_nanosleep,
    libc::SYS_nanosleep,
    libc::SYS_restart_syscall,
    libc::SYS_sched_yield,
    libc::SYS_getpid,
    libc::SYS_gettid,
    libc::SYS_rt_sigaction,
    libc::SYS_rt_sigprocmask,
    libc::SYS_rt_sigreturn,
    libc::SYS_sigaltstack,
    libc::SYS_exit,
    libc::SYS_exit_group,
];

/// Calls that only this architecture still has.
#[cfg(target_arch = "x86_64")]
mod old_calls {
    pub(super) const DEADLY: &[i64] = &[libc::SYS_fork, libc::SYS_vfork];
    /// `open` with the flags at this argument.
    pub(super) const OPEN_FILE: Option<(i64, u8)> = Some((libc::SYS_open, 1));
}

#[cfg(not(target_arch = "x86_64"))]
mod old_calls {
    pub(super) const DEADLY: &[i64] = &[];
    pub(super) const OPEN_FILE: Option<(i64, u8)> = None;
}

type Rules = BTreeMap<i64, Vec<SeccompRule>>;

/// Puts both filters on this thread, the only one of the runner.
pub(super) fn raise() -> Result<BarrierState, BarrierError> {
    let name = Barrier::Seccomp.name();
    let build = || -> Result<[BpfProgram; 2], seccompiler::BackendError> {
        Ok([
            program(deadly()?, SeccompAction::KillProcess, SeccompAction::Allow)?,
            program(open()?, SeccompAction::Allow, SeccompAction::Errno(EPERM))?,
        ])
    };
    let [deadly, open] = build().map_err(|error| BarrierError::new(name, error))?;
    match apply_filter(&deadly) {
        Ok(()) => {}
        Err(seccompiler::Error::Seccomp(error)) if is_unknown(&error) => {
            return Ok(BarrierState::Absent);
        }
        Err(error) => return Err(BarrierError::new(name, error)),
    }
    apply_filter(&open).map_err(|error| BarrierError::new(name, error))?;
    Ok(BarrierState::Full)
}

const EPERM: u32 = libc::EPERM.cast_unsigned();

/// Tells whether the kernel was built without seccomp filters.
fn is_unknown(error: &std::io::Error) -> bool {
    matches!(error.raw_os_error(), Some(libc::ENOSYS | libc::EINVAL))
}

fn program(
    rules: Rules,
    on_match: SeccompAction,
    otherwise: SeccompAction,
) -> Result<BpfProgram, seccompiler::BackendError> {
    let architecture = TargetArch::try_from(std::env::consts::ARCH)?;
    SeccompFilter::new(rules, otherwise, on_match, architecture)?.try_into()
}

fn deadly() -> Result<Rules, seccompiler::BackendError> {
    let mut rules = whatever(DEADLY);
    rules.extend(whatever(old_calls::DEADLY));
    // A thread fails with EPERM by the open list; a process is deadly. `clone3` keeps its flags in
    // memory, out of a filter's sight, and fails with EPERM.
    rules.insert(libc::SYS_clone, vec![masked(0, libc::CLONE_THREAD, 0)?]);
    Ok(rules)
}

fn open() -> Result<Rules, seccompiler::BackendError> {
    let mut rules = whatever(OPEN);
    rules.insert(libc::SYS_openat, vec![masked(2, NOT_READING, 0)?]);
    if let Some((call, argument)) = old_calls::OPEN_FILE {
        rules.insert(call, vec![masked(argument, NOT_READING, 0)?]);
    }
    // Others could have descriptors send signals to other processes (F_SETOWN).
    let commands = [
        libc::F_GETFD,
        libc::F_SETFD,
        libc::F_GETFL,
        libc::F_DUPFD_CLOEXEC,
    ];
    let commands = commands.into_iter().map(|command| equal(1, command));
    rules.insert(libc::SYS_fcntl, commands.collect::<Result<_, _>>()?);
    // `abort` signals its own process.
    let own = std::process::id().cast_signed();
    rules.insert(libc::SYS_tgkill, vec![equal(0, own)?]);
    Ok(rules)
}

/// Flags of `open` that do more than reading what is there.
const NOT_READING: i32 =
    libc::O_ACCMODE | libc::O_CREAT | libc::O_TRUNC | libc::O_APPEND | libc::O_PATH;

fn whatever(calls: &[i64]) -> Rules {
    calls.iter().map(|call| (*call, Vec::new())).collect()
}

fn masked(argument: u8, mask: i32, value: i32) -> Result<SeccompRule, seccompiler::BackendError> {
    let operator = SeccompCmpOp::MaskedEq(u64::from(mask.cast_unsigned()));
    rule(argument, operator, value)
}

fn equal(argument: u8, value: i32) -> Result<SeccompRule, seccompiler::BackendError> {
    rule(argument, SeccompCmpOp::Eq, value)
}

fn rule(
    argument: u8,
    operator: SeccompCmpOp,
    value: i32,
) -> Result<SeccompRule, seccompiler::BackendError> {
    let value = u64::from(value.cast_unsigned());
    SeccompRule::new(vec![SeccompCondition::new(
        argument, Dword, operator, value,
    )?])
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn no_call_is_on_both_lists() {
        let (deadly, open) = (deadly().unwrap(), open().unwrap());
        let both: Vec<_> = deadly
            .keys()
            .filter(|call| open.contains_key(call))
            .collect();
        assert!(both.is_empty(), "{both:?}");
    }

    #[test]
    fn both_filters_compile_for_this_machine() {
        let kill = program(
            deadly().unwrap(),
            SeccompAction::KillProcess,
            SeccompAction::Allow,
        );
        let allow = program(
            open().unwrap(),
            SeccompAction::Allow,
            SeccompAction::Errno(EPERM),
        );
        assert!(!kill.unwrap().is_empty() && !allow.unwrap().is_empty());
    }
}
