"""The models by subject."""

from lapel.records.models.accounts import AccountChange, ActCount, SignedIn
from lapel.records.models.deliveries import Delivery, RefusalSettlement, RefusedEntry
from lapel.records.models.dispatch import (
    CustodyForm,
    DeliveredFile,
    FileBesideReport,
    LaboratoryLayout,
    OriginalFile,
)
from lapel.records.models.documents import KeptDocument, Letterhead
from lapel.records.models.equipment import EarlierCertificate, Meter, Pump, Splitter
from lapel.records.models.laboratory import LaboratoryReport, LaboratoryResult
from lapel.records.models.log import Device, DeviceContact, DevicePairing, LogEntry
from lapel.records.models.people import Membership, WorkerName
from lapel.records.models.places import EarlierPlace, ExposureGroup, Site, Worker
from lapel.records.models.plans import (
    AcceptedArea,
    OfferedShift,
    PlanLaboratory,
    PlanMedium,
    PlannedTrain,
    PlanQuestion,
    PlanSearch,
    PlanTechnician,
    PlanTerms,
    PlanWorker,
    Product,
)
from lapel.records.models.reporting import (
    Recommendation,
    ReportTerms,
    ReportText,
    ReviewComment,
    Signature,
    Telling,
)
from lapel.records.models.surveys import (
    Agent,
    FindingOverride,
    LimitChoice,
    MediaLot,
    Method,
    SampleOrder,
    Shift,
    Survey,
)

__all__ = [
    "AcceptedArea",
    "AccountChange",
    "ActCount",
    "Agent",
    "CustodyForm",
    "DeliveredFile",
    "Delivery",
    "Device",
    "DeviceContact",
    "DevicePairing",
    "EarlierCertificate",
    "EarlierPlace",
    "ExposureGroup",
    "FileBesideReport",
    "FindingOverride",
    "KeptDocument",
    "LaboratoryLayout",
    "LaboratoryReport",
    "LaboratoryResult",
    "Letterhead",
    "LimitChoice",
    "LogEntry",
    "MediaLot",
    "Membership",
    "Meter",
    "Method",
    "OfferedShift",
    "OriginalFile",
    "PlanLaboratory",
    "PlanMedium",
    "PlanQuestion",
    "PlanSearch",
    "PlanTechnician",
    "PlanTerms",
    "PlanWorker",
    "PlannedTrain",
    "Product",
    "Pump",
    "Recommendation",
    "RefusalSettlement",
    "RefusedEntry",
    "ReportTerms",
    "ReportText",
    "ReviewComment",
    "SampleOrder",
    "Shift",
    "Signature",
    "SignedIn",
    "Site",
    "Splitter",
    "Survey",
    "Telling",
    "Worker",
    "WorkerName",
]
